"""What the eye resolves of a pattern at a distance.

A repeating flat pattern is filtered as S-CIELAB does: in linear light, in opponent channels, each by a sum
of Gaussians in degrees of visual angle. The pattern repeats over its edges, so the filtering is exact in
the Fourier domain. Kernel and geometry enter as visual angle alone: beads twice as large look the same at
twice the distance.

A rope is a strip of its pattern, a few millimetres wide, and seen whole. Narrower than the eye's blur it is a
line, on which nothing reads as a pattern at a glance, however long its spirals are.

What reads at a glance is less than the finest that sharp sight can tell apart: two distances are told, the
one to which a pattern reads and the one from which it has blurred for everybody.

Sources
-------
[1] Zhang, Wandell (1996), as in ``sight``.
[2] Paravina et al. (2015), J. Esthet. Restor. Dent. 27(S1), S1-S9: half of 175 observers see 0.8 CIEDE2000.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.colour import sight
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import (
    lab_to_linear,
    lab_to_xyz,
    linear_to_lab,
    triples,
    xyz_to_lab,
)

DISTANCES_M: Mapping[str, float] = MappingProxyType(
    {"in the hand": 0.35, "at arm's length": 0.6, "across a table": 1.5, "across a room": 4.0}
)
"""Distances a maker has in mind, in metres (common practice, no source)."""

READS = 0.8
"""[2]: a pattern reads while its two colours, as blurred, keep this contrast: as a difference of two plain
colours, half the observers still see it."""

# Where reading distances are looked for, as cycles of the coarsest stripe to the degree: at the first it
# spans ten degrees, at the last black on white has lost all but 1e-14 of its contrast.
_CYCLES = np.geomspace(0.1, 60.0, 160)
_MINUTE_DEG = 1.0 / 60.0
_BLACK = 1e-4  # luminance of the blackest mean, as a share of white
_REFINEMENTS = 24  # at most; half a dozen are usual
_AT_A_TIME = 128  # pairs; what is worked on then stays in the processor's cache


def mm_per_degree(distance_m: npt.ArrayLike) -> FloatArray:
    """Millimetres that one degree of visual angle spans at a distance; proportional to it."""
    return np.asarray(distance_m, dtype=np.float64) * (2000.0 * math.tan(math.radians(0.5)))


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """A repeating pattern of roles, as waves: all that its look at a distance depends on.

    Attributes
    ----------
    shares : ndarray, shape (n,)
        Area of each role; sums to 1.
    frequency : ndarray, shape (f,)
        Cycles per millimetre, rising, none zero.
    power : ndarray, shape (f, n, n)
        Power that each two roles have in common at that frequency, divided by the area of the first.
    width_mm : float
        Width of the rope that shows it; infinite for a cloth.
    """

    shares: FloatArray
    frequency: FloatArray
    power: FloatArray
    width_mm: float


def pattern(share: npt.ArrayLike, mm_per_px: tuple[float, float], width_mm: float = math.inf) -> Pattern:
    """The waves of a flat pattern given as shares of roles.

    Parameters
    ----------
    share : array_like, shape (height, width, n)
        How much of each pixel shows each role, summing to 1 over the last axis; the pattern goes on over
        all its edges. Each role must be seen somewhere.
    mm_per_px : (float, float)
        Height and width of a pixel.
    width_mm : float
        Diameter of the rope that shows the pattern; a cloth without end if left out.

    Raises
    ------
    ValueError
        If the shape does not fit, a role is nowhere to be seen or the width is not above 0.
    """
    if not width_mm > 0:
        raise ValueError(f"width_mm must be above 0; got {width_mm}")
    roles = np.asarray(share, dtype=np.float64)
    if roles.ndim != 3:
        raise ValueError(f"share must have shape (height, width, roles); got {roles.shape}")
    height, width, count = roles.shape
    shares = roles.mean(axis=(0, 1))
    if not np.all(shares > 0.0):
        raise ValueError(f"every role must be seen somewhere; got areas {shares.tolist()}")
    waves = np.fft.rfft2(roles, axes=(0, 1)) / (height * width)
    common = np.real(waves[..., :, None] * np.conj(waves[..., None, :]))
    common[:, 1 : (width + 1) // 2] *= 2.0  # rfft2 leaves out the mirror images across
    below = (height - 1) // 2  # and those upside down have the same frequency
    common[1 : below + 1] += common[: height - below - 1 : -1]
    rows = height // 2 + 1
    down, across = np.arange(rows) / mm_per_px[0], np.arange(width // 2 + 1) / mm_per_px[1]
    frequency = np.hypot(down[:, None] / height, across / width).ravel()
    power = common[:rows].reshape(-1, count, count) / shares[:, None]
    order = np.argsort(frequency, kind="stable")[1:]
    frequency, power = frequency[order], power[order]
    # The weakest waves, that together hold less than a ten-thousandth of the contrast, move no distance
    # by more than 1e-4 of it.
    weight = np.abs(power).sum(axis=(1, 2))
    weakest = np.argsort(weight, kind="stable")
    keep = np.sort(weakest[np.cumsum(weight[weakest]) > 1e-4 * weight.sum()])
    return Pattern(shares, frequency[keep], power[keep], width_mm)


def mixing(waves: Pattern, distance_m: npt.ArrayLike) -> FloatArray:
    """How the light of the roles mixes in the eye, by opponent channel.

    Parameters
    ----------
    waves : Pattern
    distance_m : array_like, shape (...)
        Above 0.

    Returns
    -------
    ndarray, shape (..., 3, n, n)
        Row: the role looked at; column: whose light it gets. Rows sum to 1: near, the identity; far, the
        shares.
    """
    near = mm_per_degree(distance_m)
    passed = sight.modulation(near[..., None] * waves.frequency)
    mixed = np.tensordot(np.moveaxis(passed, 0, -2), waves.power, axes=(-1, 0))
    return np.asarray(mixed + waves.shares, dtype=np.float64)


def seen_contrast(
    waves: Pattern, labs: npt.ArrayLike, distance_m: npt.ArrayLike, roles: tuple[int, int] = (0, 1)
) -> FloatArray:
    """How strong the contrast of two roles of a pattern still is, as the eye has them from a distance.

    The colour seen of a role is the mean light over its own area after the filtering. Value and hue are
    filtered apart, as a maker squints: the greys of the colours give the difference in lightness, and the
    colours brought to one lightness (L* = 50) that in chroma and hue. Filtered together, a lighter accent
    would drown the body's hue and could seem to read less far; apart, more contrast never does.

    Parameters
    ----------
    waves : Pattern
    labs : array_like, shape (..., n, 3)
        Lab (D65, 2 degree observer) of each role.
    distance_m : array_like, shape (...)
        Above 0. Leading axes broadcast.
    roles : (int, int)
        The two roles, accent and body. The weighting of lightness S_L is that at the body's L*, as other
        formulas take it at the standard.

    Returns
    -------
    ndarray, shape (...)
        In steps as large as those of CIEDE2000, and about that for small differences seen near by; for large
        ones it is another figure: black beside white is 57, not 100. Far, 0.

    Raises
    ------
    ValueError
        If ``labs`` does not give one colour for each role.
    """
    colours = _one_for_each_role(waves, labs)
    return _contrast(colours, mixing(waves, distance_m), roles)


def _one_for_each_role(waves: Pattern, labs: npt.ArrayLike) -> FloatArray:
    colours = triples(labs, "labs", "L*, a*, b*")
    if colours.ndim < 2 or colours.shape[-2] != len(waves.shares):
        raise ValueError(f"labs must give {len(waves.shares)} colours, one a role; got shape {colours.shape}")
    return colours


def _contrast(labs: FloatArray, mixed: FloatArray, roles: tuple[int, int]) -> FloatArray:
    """``seen_contrast`` with the mixing known; shapes (..., n, 3) and (..., 3, n, n)."""
    greys, hues = labs.copy(), labs.copy()
    greys[..., 1:] = 0.0
    hues[..., 0] = 50.0
    rows = mixed[..., list(roles), :]  # (..., channel, 2, n)
    grey_1, grey_2 = _seen(greys, rows)
    hue_1, hue_2 = _seen(hues, rows)
    hue_1[..., 0] = hue_2[..., 0] = 50.0
    from_50 = np.square(labs[..., roles[1], 0] - 50.0)
    S_L = 1.0 + 0.015 * from_50 / np.sqrt(20.0 + from_50)  # noqa: N806 -- the name in CIEDE2000
    lightness = (grey_1[..., 0] - grey_2[..., 0]) / S_L
    return np.asarray(np.hypot(lightness, delta_e_2000(hue_1, hue_2)), dtype=np.float64)


def _seen(labs: FloatArray, rows: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Lab of the two roles whose rows of the mixing are given."""
    opponent = lab_to_xyz(labs) @ sight.XYZ_TO_OPPONENT.T
    seen = np.einsum("...kin,...nk->i...k", rows, opponent)
    one, two = xyz_to_lab(seen @ sight.OPPONENT_TO_XYZ.T)
    return one, two


def reads_to_m(
    waves: Pattern,
    labs: npt.ArrayLike,
    roles: tuple[int, int] = (0, 1),
    threshold: float = READS,
) -> FloatArray:
    """The farthest distance at which a pattern in these colours still shows at a glance.

    Sharp sight tells more of it apart: see ``blurs_from_m``.

    Parameters
    ----------
    waves : Pattern
    labs : array_like, shape (..., n, 3)
        Lab (D65, 2 degree observer) of each role.
    roles : (int, int)
        The two roles that must stay apart, accent and body.
    threshold : float
        Their least contrast as seen, above 0.

    Returns
    -------
    ndarray, shape (...)
        Metres, to normal sight; 0 where it reads at no distance.

    Raises
    ------
    ValueError
        If ``labs`` does not give one colour for each role, or the threshold is not above 0.
    """
    colours = _one_for_each_role(waves, labs)
    if not threshold > 0:
        raise ValueError(f"threshold must be above 0; got {threshold}")
    flat = colours.reshape(-1, *colours.shape[-2:])
    distance = np.zeros(len(flat))
    tried, mixed = _distances_tried(waves), _mixing_tried(waves)
    for start in range(0, len(flat), _AT_A_TIME):
        some = flat[start : start + _AT_A_TIME]
        excess = _contrast(some[:, None], mixed, roles) - threshold
        reads = np.flatnonzero((excess >= 0.0).any(axis=1))
        last = len(tried) - 1 - np.argmax(excess[reads, ::-1] >= 0.0, axis=1)
        last = np.minimum(last, len(tried) - 2)
        bracket = tried[last], tried[last + 1], excess[reads, last], excess[reads, last + 1]
        distance[start + reads] = _refined(some[reads], waves, roles, threshold, *bracket)
    return np.minimum(distance, _narrower_from_m(waves, sight.BLUR_DEG)).reshape(colours.shape[:-2])


def blurs_from_m(waves: Pattern, labs: npt.ArrayLike, reads_to_m: float) -> float:
    """The distance from which not even sharp sight tells anything of a pattern apart.

    Parameters
    ----------
    waves : Pattern
    labs : array_like, shape (n, 3)
        Lab (D65, 2 degree observer) of each role.
    reads_to_m : float
        To where it reads at a glance: nearer it has not blurred. Hue has its say there alone, because sharp
        sight is sharp for lightness.

    Returns
    -------
    float
        Metres, at least ``reads_to_m``.

    Notes
    -----
    The waves' contrasts in luminance, each by the eye's sensitivity at its frequency, are summed as squares;
    at 1 half the looks see something. A rope narrower than a minute of arc, which is the least that 20/20
    sight resolves, has blurred whatever is on it.
    """
    luminance = lab_to_xyz(_one_for_each_role(waves, labs))[..., 1]
    power = np.einsum("i,fij,i,j->f", waves.shares, waves.power, luminance, luminance)
    contrast = np.sqrt(2.0 * np.maximum(power, 0.0)) / max(float(waves.shares @ luminance), _BLACK)

    def shows_by(sensitivity: FloatArray) -> BoolArray:
        return np.asarray(np.linalg.norm(contrast * sensitivity, axis=-1) >= 1.0)

    tried = _distances_tried(waves)
    shows = shows_by(_sensitivity_tried(waves))
    if not shows.any():
        return reads_to_m
    last = min(len(tried) - 1 - int(np.argmax(shows[::-1])), len(tried) - 2)
    # By halving the ratio: what a root finder saves here it costs many times over in its import.
    near, far = tried[last], tried[last + 1]
    for _ in range(_REFINEMENTS):
        middle = math.sqrt(near * far)
        near, far = (middle, far) if shows_by(_sensitivity(waves, middle)) else (near, middle)
    return max(reads_to_m, min(float(near), _narrower_from_m(waves, _MINUTE_DEG)))


def _sensitivity(waves: Pattern, distance_m: npt.ArrayLike) -> FloatArray:
    """How sensitive sharp sight is to each wave at a distance, shape (..., f)."""
    near = mm_per_degree(distance_m)[..., None]
    return sight.sensitivity(waves.frequency * near, waves.width_mm / near)


# What does not depend on the colours is worked out once for a pattern.
def _distances_tried(waves: Pattern) -> FloatArray:
    return np.asarray(_CYCLES / (waves.frequency[0] * mm_per_degree(1.0)))


@lru_cache(maxsize=32)
def _mixing_tried(waves: Pattern) -> FloatArray:
    return mixing(waves, _distances_tried(waves))


@lru_cache(maxsize=32)
def _sensitivity_tried(waves: Pattern) -> FloatArray:
    return _sensitivity(waves, _distances_tried(waves))


def _narrower_from_m(waves: Pattern, angle_deg: float) -> float:
    """From where a rope spans less than a visual angle."""
    return waves.width_mm / (angle_deg * float(mm_per_degree(1.0)))


def _refined(
    labs: FloatArray,
    waves: Pattern,
    roles: tuple[int, int],
    threshold: float,
    near: FloatArray,
    far: FloatArray,
    near_excess: FloatArray,
    far_excess: FloatArray,
) -> FloatArray:
    """The distances between ``near`` and ``far`` at which the contrast falls to the threshold (Illinois)."""
    middle, before = near, np.full(len(near), -1)
    for _ in range(_REFINEMENTS):
        middle = (near * far_excess - far * near_excess) / (far_excess - near_excess)
        excess = _contrast(labs, mixing(waves, middle), roles) - threshold
        if np.all(np.abs(excess) <= 1e-10 * threshold):
            break
        shows = (excess >= 0.0).astype(np.intp)
        # An end that stays put a second time loses half its weight, or it would stay put for ever.
        stays = np.where(shows == before, 0.5, 1.0)
        before = shows
        far_excess = np.where(shows == 1, stays * far_excess, excess)
        near_excess = np.where(shows == 1, excess, stays * near_excess)
        near, far = np.where(shows == 1, middle, near), np.where(shows == 1, far, middle)
    return middle


def blurs_to(labs: npt.ArrayLike, shares: Sequence[float] | FloatArray) -> FloatArray:
    """The one colour that a pattern becomes from far away: its colours mixed as light, by area.

    Parameters
    ----------
    labs : array_like, shape (..., n, 3)
        Lab (D65, 2 degree observer) of each role.
    shares : sequence of n float
        Their areas, summing to 1.

    Returns
    -------
    ndarray, shape (..., 3)
        Lab.

    >>> blurs_to([[0, 0, 0], [100, 0, 0]], [0.5, 0.5]).round(2).tolist()
    [76.07, 0.0, 0.0]
    """
    return linear_to_lab(np.einsum("...nc,n->...c", lab_to_linear(labs), np.asarray(shares)))
