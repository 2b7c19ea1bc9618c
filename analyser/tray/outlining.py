"""Which pixels of a pile are beads: table, soft shadow and the gaps between beads are left out.

A gap shows the table in the pile's own shade: darker than the beads and less coloured, for what light reaches
it is the lamp's and only in part the beads'. Against the table in shade, at equal luminance, a bead has its
full chroma, a gap a third of it or less; beads without chroma of their own are told by luminance alone.

Linear light with sRGB primaries; Lab is CIE 1976 L*a*b*, D65, 2 degree observer. The rules' figures were
chosen on twelve path-traced trays of known outline and colour (tables of paper, linen, wood and felt, with
and without dishes, even and one-sided light). Moving one of them by a fifth moves the median error of opaque
and matte piles by 0.3 CIEDE2000 at most.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import linear_to_lab, relative_luminance
from analyser.imaging.gradients import cube_roots, gradient_magnitude

F32 = npt.NDArray[np.float32]

# All lengths are shares of the pile's radius.
_RING = 0.08, 0.35  # of the table that is looked at, outside the outline
_OUTLINE = 0.4  # of the pile's edge strength above the table's, at which the pile ends
_EDGES_OVER = 0.06  # over which edges are gathered: about half a bead
_BEYOND = 0.12  # how far outside the outline coloured beads may lie; a colourless one is not told from shadow
_BEYOND_COLOURLESS = 0.04
_CORE = 0.25  # depth from which the pile's own colour is taken
_HIGHLIGHT = 0.025  # half the width of what may be a highlight or a bead's hole, and is no gap
_LOOSE = 0.15  # share of the core that must be beads to learn from them
_SPECK = 0.1  # side of a region that is too small to be either bead or gap

_COLOURED = 2.5  # chroma over the table's own scatter from which chroma tells
_FULL = 0.55  # share of the pile's chroma that a bead has at least, at the pile's own luminance
_PER_OCTAVE = 0.24  # more than that, for each halving of luminance: deep gaps take the beads' tint
_OCTAVES = -2.5, 0.5
_BRIGHT_OCTAVES = 1.5  # above the pile's luminance by more than that is table beside dark beads
_PER_BRIGHT_OCTAVE = 1.25
_OVER_TABLE = 1.1  # times the table's luminance: nothing but a bead
_DARK, _LIGHT = 0.35, 1.5  # luminance of colourless beads over the table's: below, above, or about the same
_SHADE = 0.4  # luminance of the darkest bead pixels over the pile's


@dataclass(frozen=True, slots=True, eq=False)
class Outlined:
    """The beads of one pile in a window.

    Attributes
    ----------
    beads : bool ndarray, shape (h, w)
        True on bead pixels.
    whole : bool ndarray, shape (h, w)
        The pile with its gaps and highlights filled.
    told : float
        How well beads and table could be told apart: chroma over the table's scatter, or octaves of luminance
        between the two where that says more.
    """

    beads: BoolArray
    whole: BoolArray
    told: float


def outline(linear: F32, roughly: BoolArray, elsewhere: BoolArray) -> Outlined:
    """Tell the bead pixels of a pile from what surrounds them.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light of a window with the pile and a third of its radius round it.
    roughly : bool ndarray, shape (h, w)
        Where it lies, a little too large rather than too small.
    elsewhere : bool ndarray, shape (h, w)
        Other piles, cards: no table either.

    Returns
    -------
    Outlined
    """
    envelope = _envelope(linear, roughly)
    radius = float(np.sqrt(max(envelope.sum(), 1) / np.pi))
    depth = _distance(envelope)
    beyond = _distance(~envelope)
    ring = (beyond > _RING[0] * radius) & (beyond < _RING[1] * radius) & ~elsewhere
    if ring.sum() < 50:
        ring = ~envelope & ~elsewhere if (~envelope & ~elsewhere).any() else ~envelope
    luminance = np.maximum(relative_luminance(linear), 1e-5)
    # the brighter half of the ring is neither shadow nor a dark rim, its last twentieth may be glare
    level = np.percentile(luminance[ring], (50, 95))
    ring &= (luminance >= level[0]) & (luminance <= level[1])
    table = np.maximum(np.median(linear[ring], axis=0).astype(np.float64), 1e-4)
    core = depth > _CORE * radius
    if core.sum() < 50:
        core = envelope
    light = luminance / relative_luminance(table)
    tint = _tint(linear, table, light)
    scatter = max(1.0, 2.0 * float(np.median(np.hypot(*tint[ring].T))))
    lightness = linear_to_lab(linear)[..., 0]
    beads, coloured, told = _tell_apart(light, tint, lightness, core, scatter)
    sure = core & beads
    if sure.sum() > max(50, _LOOSE * core.sum()):
        # once more, with what a bead looks like no longer held down by gaps
        beads, coloured, told = _tell_apart(light, tint, lightness, sure, scatter)
    beads = cv2.GaussianBlur(beads.astype(np.float32), (0, 0), max(0.8, 0.012 * radius)) > 0.5
    gap = (~beads).astype(np.uint8)
    wide = cv2.morphologyEx(gap, cv2.MORPH_OPEN, _disc(_HIGHLIGHT * radius)) > 0
    gaps = np.where(depth > 0.1 * radius, wide, gap > 0)
    near = beyond <= max((_BEYOND if coloured else _BEYOND_COLOURLESS) * radius, 1.0)
    kept = _without_specks(near & ~gaps, (_SPECK * radius) ** 2) & near
    if kept.sum() < 0.2 * envelope.sum():  # the rules do not fit: the whole is nearer the truth
        kept = envelope
    return Outlined(kept, _fill(kept, radius), told)


def _tell_apart(
    light: FloatArray, tint: FloatArray, lightness: FloatArray, like: BoolArray, scatter: float
) -> tuple[BoolArray, bool, float]:
    """Pixels that look like beads rather than like table in shade.

    Parameters
    ----------
    light : ndarray, shape (h, w)
        Luminance over the table's.
    tint : ndarray, shape (h, w, 2)
        From ``_tint``.
    lightness : ndarray, shape (h, w)
        L*.
    like : bool ndarray, shape (h, w)
        Where most pixels are beads.
    scatter : float
        Chroma of the table's own scatter.

    Returns
    -------
    (bool ndarray, bool, float)
        The pixels, whether chroma told them, and how well (see ``Outlined.told``).
    """
    usual = float(np.median(light[like]))
    axis = np.median(tint[like], axis=0)
    chroma = float(np.hypot(*axis))
    coloured = chroma >= _COLOURED * scatter
    told = max(chroma / scatter, abs(float(np.log2(usual))))
    if coloured:
        share = _chroma_share(tint @ (axis / chroma), lightness, like, 2.0 * scatter)
        octaves = np.log2(light / usual)
        score = share + _PER_OCTAVE * (
            np.clip(octaves, *_OCTAVES) - _PER_BRIGHT_OCTAVE * np.maximum(octaves - _BRIGHT_OCTAVES, 0)
        )
        return (score > _FULL) | (light > _OVER_TABLE), coloured, told
    if usual < _DARK:
        return light < np.sqrt(usual), coloured, told
    if usual < _LIGHT:
        return light > _SHADE * usual, coloured, told
    return light > np.sqrt(usual), coloured, told


def _envelope(linear: F32, roughly: BoolArray) -> BoolArray:
    """The pile's outer shape: where edges are dense."""
    radius = float(np.sqrt(max(roughly.sum(), 1) / np.pi))
    strength = gradient_magnitude(cube_roots(linear), 0.8)
    edges = cv2.GaussianBlur(strength, (0, 0), _EDGES_OVER * radius)
    depth = _distance(roughly)
    core = depth > min(0.45 * radius, 0.6 * float(depth.max()))
    own = float(np.median(edges[core]))
    base = float(np.median(edges[~roughly])) if (~roughly).any() else 0.0
    dense = ((edges > base + _OUTLINE * (own - base)) & roughly).astype(np.uint8)
    dense = np.asarray(cv2.morphologyEx(dense, cv2.MORPH_CLOSE, _disc(0.12 * radius)), np.uint8)
    contours, _ = cv2.findContours(dense, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return roughly
    shape = np.zeros_like(dense)
    cv2.drawContours(shape, [max(contours, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    shape = np.asarray(cv2.morphologyEx(shape, cv2.MORPH_OPEN, _disc(0.1 * radius)), np.uint8)
    return shape > 0 if shape.any() else roughly


def _tint(linear: F32, table: FloatArray, light: FloatArray) -> FloatArray:
    """a*, b* of each pixel less those of the table in a shade as dark as the pixel, shape (h, w, 2)."""
    shaded = linear_to_lab(np.minimum(light, 1.0)[..., None] * table)
    return np.asarray((linear_to_lab(linear) - shaded)[..., 1:], np.float64)


def _chroma_share(along: FloatArray, lightness: FloatArray, core: BoolArray, least: float) -> FloatArray:
    """Chroma of each pixel beside that of the pile's own pixels of its lightness; 1 is a usual bead."""
    step = np.clip(lightness / 4, 0, 25).astype(np.intp)
    usual = np.full(26, np.nan)
    for at in range(26):
        here = core & (step == at)
        if here.sum() > 40:
            usual[at] = np.percentile(along[here], 65)  # gaps hold it down a little
    known = np.flatnonzero(np.isfinite(usual))
    if not len(known):
        return np.asarray(along / max(least, float(np.median(along[core]))))
    spread = np.interp(np.arange(26), known, usual[known])
    smooth = np.convolve(np.pad(spread, 3, mode="edge"), _SMOOTHING, mode="valid")
    return np.asarray(np.clip(along / np.maximum(smooth[step], max(least, 0.4 * smooth.max())), -1.0, 1.5))


_WEIGHTS = np.exp(-0.5 * np.arange(-3, 4) ** 2)
_SMOOTHING = _WEIGHTS / _WEIGHTS.sum()


def _without_specks(mask: BoolArray, area: float) -> BoolArray:
    """Regions of either kind smaller than that area given to the other kind."""
    whole = mask.astype(np.uint8)
    for kind in (0, 1):
        _, labels, stats, _ = cv2.connectedComponentsWithStats(
            (whole == kind).astype(np.uint8), connectivity=4
        )
        small = stats[:, cv2.CC_STAT_AREA] < area
        small[0] = False
        whole[small[labels]] = 1 - kind
    return whole > 0


def _fill(mask: BoolArray, radius: float) -> BoolArray:
    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, _disc(0.15 * radius))
    contours, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = np.zeros(mask.shape, np.uint8)
    if contours:
        cv2.drawContours(whole, [max(contours, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    return whole > 0


def _distance(mask: BoolArray) -> F32:
    """Distance of each pixel of a mask from what lies outside it."""
    return np.asarray(cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5), np.float32)


def _disc(radius_px: float) -> npt.NDArray[np.uint8]:
    size = 2 * max(1, round(radius_px)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)
