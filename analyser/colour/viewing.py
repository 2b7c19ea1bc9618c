"""What the eye resolves of a pattern at a distance.

A repeating flat pattern is filtered as S-CIELAB does: in linear light, in opponent channels, each by a sum
of Gaussians in degrees of visual angle. The pattern repeats over its edges, so the filtering is exact in
the Fourier domain, without a window. Kernel and geometry enter as visual angle alone: beads twice as large
look the same at twice the distance.

Sources
-------
[1] Zhang, Wandell (1996), SID Symposium Digest 27, 731-734: the filtering; opponent matrix, weights and
    widths from the authors' code (2 degree matrix; widths are full widths at half maximum). Not taken over:
    that code cuts its Gaussians to a window of one degree; here they are whole.
[2] Paravina et al. (2015), J. Esthet. Restor. Dent. 27(S1), S1-S9: half of 175 observers see 0.8 CIEDE2000.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
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

READS_DE00 = 0.8
"""[2]: a pattern reads while its two colours, as blurred, differ by this: half the observers still see it."""

XYZ_TO_OPPONENT: FloatArray = np.array(
    [
        [0.2787336, 0.7218031, -0.1065520],
        [-0.4487736, 0.2898056, 0.0771569],
        [0.0859513, -0.5899859, 0.5011089],
    ]
)
_OPPONENT_TO_XYZ: FloatArray = np.asarray(np.linalg.inv(XYZ_TO_OPPONENT), dtype=np.float64)
# [1]: weight and full width at half maximum in degrees, for luminance, red-green, blue-yellow.
_KERNELS = (
    ((0.9207, 0.05), (0.105, 0.225), (-0.108, 7.0)),
    ((0.531, 0.0685), (0.33, 0.826)),
    ((0.4877, 0.092), (0.3711, 0.6451)),
)
# Where reading distances are looked for, as cycles of the coarsest stripe to the degree: at the first it
# spans ten degrees, at the last black on white has lost all but 1e-14 of its contrast.
_CYCLES = np.geomspace(0.1, 60.0, 160)
_REFINEMENTS = 24  # at most; half a dozen are usual
_NOTHING = -100.0  # exponent of a contrast that is none; exp is slow where it underflows
_AT_A_TIME = 128  # pairs; what is worked on then stays in the processor's cache


def modulation(cycles_per_degree: npt.ArrayLike) -> FloatArray:
    """How much of a stripe's contrast the eye passes, by opponent channel [1].

    Parameters
    ----------
    cycles_per_degree : array_like, shape (...)
        Spatial frequency, at least 0.

    Returns
    -------
    ndarray, shape (3, ...)
        Luminance, red-green, blue-yellow; 1 at frequency 0.

    >>> modulation(0.0).round(12).tolist()
    [1.0, 1.0, 1.0]
    """
    squared = np.square(np.pi * np.asarray(cycles_per_degree, dtype=np.float64))
    passed = np.zeros((3, *squared.shape))
    for channel, kernel in enumerate(_KERNELS):
        total = sum(weight for weight, _ in kernel)
        for weight, width in kernel:
            # exp(-r^2 / s^2) with half its height at r = width / 2 has s^2 = width^2 / (4 ln 2), and the
            # Fourier transform exp(-pi^2 s^2 f^2).
            exponent = np.maximum(-(width**2) / (4.0 * math.log(2.0)) * squared, _NOTHING)
            passed[channel] += weight / total * np.exp(exponent)
    return passed


def mm_per_degree(distance_m: npt.ArrayLike) -> FloatArray:
    """Millimetres that one degree of visual angle spans at a distance; proportional to it."""
    return np.asarray(distance_m, dtype=np.float64) * (2000.0 * math.tan(math.radians(0.5)))


def _frequencies(height: int, width: int, mm_per_px: tuple[float, float]) -> FloatArray:
    """Cycles per millimetre of each wave of ``rfft2``, shape (height, width // 2 + 1)."""
    down, across = np.fft.fftfreq(height, mm_per_px[0]), np.fft.rfftfreq(width, mm_per_px[1])
    return np.asarray(np.hypot(down[:, None], across), dtype=np.float64)


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
    """

    shares: FloatArray
    frequency: FloatArray
    power: FloatArray


def pattern(share: npt.ArrayLike, mm_per_px: tuple[float, float]) -> Pattern:
    """The waves of a flat pattern given as shares of roles.

    Parameters
    ----------
    share : array_like, shape (height, width, n)
        How much of each pixel shows each role, summing to 1 over the last axis; the pattern goes on over
        all its edges. Each role must be seen somewhere.
    mm_per_px : (float, float)
        Height and width of a pixel.

    Raises
    ------
    ValueError
        If the shape does not fit or a role is nowhere to be seen.
    """
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
    frequency = _frequencies(height, width, mm_per_px)[:rows].ravel()
    power = common[:rows].reshape(-1, count, count) / shares[:, None]
    order = np.argsort(frequency, kind="stable")[1:]
    frequency, power = frequency[order], power[order]
    # The weakest waves, that together hold less than a ten-thousandth of the contrast, move no distance
    # by more than 1e-4 of it.
    weight = np.abs(power).sum(axis=(1, 2))
    weakest = np.argsort(weight, kind="stable")
    keep = np.sort(weakest[np.cumsum(weight[weakest]) > 1e-4 * weight.sum()])
    return Pattern(shares, frequency[keep], power[keep])


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
    passed = modulation(near[..., None] * waves.frequency)
    mixed = np.tensordot(np.moveaxis(passed, 0, -2), waves.power, axes=(-1, 0))
    return np.asarray(mixed + waves.shares, dtype=np.float64)


def contrast_de00(
    waves: Pattern, labs: npt.ArrayLike, distance_m: npt.ArrayLike, roles: tuple[int, int] = (0, 1)
) -> FloatArray:
    """How far two roles of a pattern still differ, as the eye has them from a distance.

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
        In CIEDE2000; near, about that of the two colours; far, 0.

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
    """``contrast_de00`` with the mixing known; shapes (..., n, 3) and (..., 3, n, n)."""
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
    opponent = lab_to_xyz(labs) @ XYZ_TO_OPPONENT.T
    seen = np.einsum("...kin,...nk->i...k", rows, opponent)
    one, two = xyz_to_lab(seen @ _OPPONENT_TO_XYZ.T)
    return one, two


def reads_to_m(
    waves: Pattern,
    labs: npt.ArrayLike,
    roles: tuple[int, int] = (0, 1),
    threshold_de00: float = READS_DE00,
) -> FloatArray:
    """The farthest distance at which a pattern in these colours still shows as a pattern.

    Parameters
    ----------
    waves : Pattern
    labs : array_like, shape (..., n, 3)
        Lab (D65, 2 degree observer) of each role.
    roles : (int, int)
        The two roles that must stay apart, accent and body.
    threshold_de00 : float
        Their least difference as seen, above 0.

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
    if not threshold_de00 > 0:
        raise ValueError(f"threshold_de00 must be above 0; got {threshold_de00}")
    flat = colours.reshape(-1, *colours.shape[-2:])
    distance = np.zeros(len(flat))
    tried = _CYCLES / (waves.frequency[0] * mm_per_degree(1.0))
    mixed = mixing(waves, tried)
    for start in range(0, len(flat), _AT_A_TIME):
        some = flat[start : start + _AT_A_TIME]
        excess = _contrast(some[:, None], mixed, roles) - threshold_de00
        reads = np.flatnonzero((excess >= 0.0).any(axis=1))
        last = len(tried) - 1 - np.argmax(excess[reads, ::-1] >= 0.0, axis=1)
        last = np.minimum(last, len(tried) - 2)
        bracket = tried[last], tried[last + 1], excess[reads, last], excess[reads, last + 1]
        distance[start + reads] = _refined(some[reads], waves, roles, threshold_de00, *bracket)
    return distance.reshape(colours.shape[:-2])


def _refined(
    labs: FloatArray,
    waves: Pattern,
    roles: tuple[int, int],
    threshold_de00: float,
    near: FloatArray,
    far: FloatArray,
    near_excess: FloatArray,
    far_excess: FloatArray,
) -> FloatArray:
    """The distances between ``near`` and ``far`` at which the contrast falls to the threshold (Illinois)."""
    middle, before = near, np.full(len(near), -1)
    for _ in range(_REFINEMENTS):
        middle = (near * far_excess - far * near_excess) / (far_excess - near_excess)
        excess = _contrast(labs, mixing(waves, middle), roles) - threshold_de00
        if np.all(np.abs(excess) <= 1e-10 * threshold_de00):
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
