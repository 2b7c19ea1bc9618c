"""Metal and thin films on drawn beads: what of the room they mirror, and in which colours.

A mirror shows the room, so its brightness depends on where each facet points, not on how much light falls on
it. A film a few hundred nanometres thick reflects each colour by its own share, which moves with the angle.

Sources
-------
Born, Wolf, Principles of Optics, section 1.6.4, a homogeneous dielectric film: the reflected share of a
film between two media, from memory. Fresnel's equations for both polarisations, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray

Lamps = Sequence[tuple[tuple[float, float, float], float]]

FINISHES = ("glossy", "matte", "metallic", "iridescent", "transparent", "lined")

WAVELENGTHS_NM = (610.0, 550.0, 465.0)
"""Where red, green and blue of sRGB's primaries lie by eye (common practice, no source)."""

GLASS, FILM = 1.5, 2.0
"""Refractive indices of bead glass and of an oxide film such as tin's (from memory)."""

SPRAYED = 0.08
"""How much thicker than its mean a film is on the side that met the vapour, thinner on the other."""

LAMP_REACH_DEG = 38.0
"""A lamp's half width as a bead sees it: a window or soft box a little nearer than it is wide."""


@dataclass(frozen=True)
class Surface:
    """What each pixel shows.

    Attributes
    ----------
    ids : ndarray of int32, shape (h, w)
        Its bead, -1 where there is none.
    diffuse, gloss : ndarray, shape (h, w)
        White light that a white matte bead, and a bead's coat, send back.
    normal, openness : ndarray, shape (h, w, 3) and (h, w), or None
        Where its facet points and how much of the room that sees; None where no finish asks for them.
    """

    ids: npt.NDArray[np.int32]
    diffuse: FloatArray
    gloss: FloatArray
    normal: FloatArray | None
    openness: FloatArray | None


def film_reflectance(cosine: npt.ArrayLike, thickness_nm: npt.ArrayLike) -> FloatArray:
    """Share of red, green and blue light that a film on glass reflects, shape (..., 3), 0 to 1.

    Parameters
    ----------
    cosine : array_like, shape (...)
        Of the angle between the facet's normal and the view, 0 to 1.
    thickness_nm : array_like, shape (...)
        Of the film; broadcasts.
    """
    # Facets seen edge on show hardly a pixel, and an exact 0 has no angle inside the film.
    one = np.maximum(np.asarray(cosine, float), 1e-3)[..., None]
    two, three = (np.sqrt(1 - (1 - one**2) / index**2) for index in (FILM, GLASS))
    wavelengths = np.array(WAVELENGTHS_NM)
    beta = 2 * np.pi * FILM * np.asarray(thickness_nm, float)[..., None] * two / wavelengths
    shares = []
    for weights in ((1.0, FILM, GLASS), (1.0, 1 / FILM, 1 / GLASS)):  # n cos for s, cos / n for p
        a, b, c = weights[0] * one, weights[1] * two, weights[2] * three
        upper, lower = (a - b) / (a + b), (b - c) / (b + c)
        both = 2 * upper * lower * np.cos(2 * beta)
        shares.append((upper**2 + lower**2 + both) / (1 + (upper * lower) ** 2 + both))
    return np.asarray(sum(shares) / 2)


def room(direction: FloatArray, lamps: Lamps, table: float) -> FloatArray:
    """Light that comes from a direction, shape (...): soft boxes, a room with a dark half, the table below.

    Parameters
    ----------
    direction : ndarray, shape (..., 3)
        Unit vectors from the bead, z towards the camera.
    lamps : sequence of (direction, strength)
        Strength is the diffuse light a facet that faces the lamp gets from it.
    table : float
        The table's mean light, 0 to 1.
    """
    towards = np.array([np.array(to) * strength for to, strength in lamps]).sum(axis=0)[:2]
    side = direction[..., :2] @ (towards / max(float(np.hypot(*towards)), 0.3))
    light = 0.42 * (0.25 + 1.5 * _step(side, 0.3))
    # The same light from a disc of the sky: radiance is strength times pi over its solid angle.
    edge = np.cos(np.deg2rad(LAMP_REACH_DEG))
    radiance = 1 / (2 * (1 - edge))
    for to, strength in lamps:
        facing = direction @ (np.array(to) / np.linalg.norm(to))
        light = light + radiance * strength * _step(facing - edge, 0.06)
    # Below the horizon a bead sees the table and its neighbours, both in the rope's own shade.
    above = _step(direction[..., 2] - 0.05, 0.12)
    return np.asarray(above * light + (1 - above) * 0.5 * table)


def _step(value: FloatArray, width: float) -> FloatArray:
    """0 below, 1 above, soft over about twice the width: metal on beads is a little rough."""
    return np.asarray(0.5 + 0.5 * np.tanh(value / width))


def mirrored(normal: FloatArray, openness: FloatArray, lamps: Lamps, table: float) -> FloatArray:
    """What a perfect mirror shows the camera, shape (...).

    Parameters
    ----------
    normal : ndarray, shape (..., 3)
        Unit normals of facets the camera sees.
    openness : ndarray, shape (...)
        Share of the room not hidden by neighbouring beads, 0 to 1.
    """
    up = normal[..., 2]
    towards = 2 * up[..., None] * normal
    towards[..., 2] -= 1
    return np.asarray(room(towards, lamps, table) * openness)


def _through(normal: FloatArray, lamps: Lamps, table: float) -> FloatArray:
    """Light that comes through a clear bead, shape (...): gathered on the side away from the lamps.

    As a ball lens does; from memory, and only roughly.
    """
    light = np.full(normal.shape[:-1], 0.12 + 0.5 * table)
    for to, strength in lamps:
        towards = np.array(to) / np.linalg.norm(to)
        far = normal[..., :2] @ -towards[:2] + 0.5 * normal[..., 2]
        light += strength * np.clip(far, 0, 1) ** 2
    return np.asarray(light)


def needs_normals(finishes: Sequence[str]) -> bool:
    """Whether any of these finishes hangs on where each facet points.

    Raises
    ------
    ValueError
        If one is none of ``FINISHES``.
    """
    for finish in finishes:
        if finish not in FINISHES:
            raise ValueError(f"no finish {finish!r}; there are {', '.join(FINISHES)}")
    return bool(set(finishes) - {"glossy", "matte"})


def finished(
    surface: Surface,
    finish: npt.NDArray[np.str_],
    film_nm: FloatArray,
    sprayed: FloatArray,
    lamps: Lamps,
    table: float,
) -> tuple[FloatArray, FloatArray, FloatArray | None]:
    """Diffuse light, gloss and, where films are, their coloured light (h, w, 3), each bead in its finish.

    A metallic bead has its mirror in the place of diffuse light, so that its colour tints it.

    Parameters
    ----------
    surface : Surface
    finish : ndarray of str, shape (n,)
        Of each bead.
    film_nm : ndarray, shape (n,)
        Mean thickness of each bead's film, where it has one.
    sprayed : ndarray, shape (n, 3)
        Unit vector to the side of each bead that met the vapour.
    lamps, table
        As for ``room``.
    """
    if (finish == "glossy").all():
        return surface.diffuse, surface.gloss, None
    on = surface.ids >= 0
    ids = surface.ids[on]
    diffuse, gloss = surface.diffuse.copy(), surface.gloss.copy()
    gloss[on] *= np.isin(finish[ids], ("glossy", "transparent", "lined"))
    if surface.normal is None or surface.openness is None:
        return diffuse, gloss, None
    normal = surface.normal[on]
    mirror = mirrored(normal, surface.openness[on], lamps, table)
    light = np.where(finish[ids] == "metallic", mirror, diffuse[on])
    light = np.where(finish[ids] == "transparent", _through(normal, lamps, table), light)
    # Clear glass magnifies its lining over most of the bead; its rim shows what lies behind.
    core = _step(normal[..., 2] - 0.55, 0.12)
    light = np.where(finish[ids] == "lined", core * mirror + (1 - core) * 0.3 * diffuse[on], light)
    filmed = finish[ids] == "iridescent"
    side = np.einsum("nk,nk->n", normal[filmed], sprayed[ids[filmed]])
    share = film_reflectance(normal[filmed, 2], film_nm[ids[filmed]] * (1 + SPRAYED * side))
    light[filmed] *= (1 - share.mean(axis=-1)) ** 2  # in and out through the film
    diffuse[on] = light
    if not filmed.any():
        return diffuse, gloss, None
    coloured = np.zeros((*ids.shape, 3))
    coloured[filmed] = share * mirror[filmed, None]
    film = np.zeros((*on.shape, 3))
    film[on] = coloured
    return diffuse, gloss, film
