"""A JPEG whose colours jump to stay: what is left of a lost piece when the decoder found its way again.

In a scan each block's mean is told as the difference to the one before it. Where bytes are lost and the codes
fall into step again, libjpeg notices nothing, and everything behind the break is too light, too dark or of
another tint, all by the same amount. Such a jump runs along the lower edge of the last sound blocks, from
the break to the right edge and, a row of blocks lower, from the left edge to the break. No edge in a photo
does. Where restart markers let the means begin anew after each row of blocks, what is off is a bar of one
block's height from the break to the right edge, too light or too dark against both its neighbours.

Sources
-------
[1] ITU-T T.81 (JPEG), F.1.1.5.1: differences of means; A.2.3: blocks of all channels taken together;
    B.2.4.4 and F.1.1.5.1: restart intervals.
"""

from __future__ import annotations

import itertools
import struct
from collections.abc import Iterator

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray

_PARTS = 8  # of a window; one of them may hold what the codes made of the lost piece
_CLIP = 20.0  # levels: a contour counts no more than a clear jump
# Over 59 photos (ropes, trays, outfits, charts; four sizes each) the statistic reached 15 at reduced sizes.
# With pieces of 1 to 64 bytes lost it was 4 to 20, and 2 to 100 times what it is within the blocks; of 3,440
# crops of drawn ropes that lie along the picture four reached 4 and 2.4 times.
_LEVELS = 4.0
_TIMES = 2.4
_TALL = 16  # rows of a block, so that there is room for more lines within it
_STRIP = 64  # rows taken at a time
_LEAST = 24  # blocks across, so that a part holds three; with two a cat was a break
# Levels of luma and both chroma, where a marker follows each row of blocks. Of 545 whole pictures four have
# such a bar, three of them drawn or of a page; with 64 bytes lost 9 of 600 files stay below and are wrong.
# Bars that end elsewhere are not looked for: photos have some (11 of 2,745 reached 10).
_BAR_LEVELS = np.array((10.0, 3.5, 3.5))
# Of a whole row, and of a bar in the first or last one, which pictures have by right.
_ROW_LEVELS = np.array((np.inf, 5.0, 5.0))
# Of a bar of three to seven blocks, each a part: of 274 whole pictures none had half of it.
_SHORT_LEVELS = np.array((15.0, 8.0, 8.0))
_SHORTEST = 3


def block_size(data: bytes) -> tuple[int, int]:
    """Height and width in pixels of the blocks that are coded together [1, A.2.3]; (0, 0) if unknown."""
    at = 2
    while at + 10 < len(data):
        marker, size = data[at + 1], struct.unpack_from(">H", data, at + 2)[0]
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            sampling = data[at + 11 : at + 2 + size : 3]
            if len(sampling) == 1:
                return 8, 8
            return 8 * max(one & 15 for one in sampling), 8 * max(one >> 4 for one in sampling)
        if marker == 0xDA:
            break
        at += 2 + size if marker != 0xFF else 1
    return 0, 0


def restart_interval(data: bytes) -> int:
    """Blocks from one restart marker to the next [1, B.2.4.4]; 0 where there are none."""
    at, interval = 2, 0
    while at + 6 <= len(data):
        marker, size = data[at + 1], struct.unpack_from(">H", data, at + 2)[0]
        if marker == 0xDD:
            interval = struct.unpack_from(">H", data, at + 4)[0]
        if marker == 0xDA:
            break
        at += 2 + size if marker != 0xFF else 1
    return interval


def may_jump(srgb_u8: npt.NDArray[np.uint8], high: int, wide: int, interval: int = 0) -> bool:
    """Whether a picture, perhaps decoded smaller, should be looked at in full size.

    Parameters
    ----------
    srgb_u8 : ndarray, shape (h, w, 3)
    high, wide : int
        Of its blocks, in its pixels.
    interval : int
        As from ``restart_interval``.
    """
    if _too_small(srgb_u8, high, wide):
        return False
    if interval == 0 or interval > _columns(srgb_u8, wide):
        return bool((_jump(_steps(srgb_u8, high, wide), broken_only=True) >= _LEVELS).any())
    if interval < _columns(srgb_u8, wide):
        return False
    return bool(_bars(_steps(srgb_u8, high, wide), np.zeros((2, 3)), share=0.5).any())


def jumps(srgb_u8: npt.NDArray[np.uint8], high: int, wide: int, interval: int = 0) -> bool:
    """Whether all that follows a place in the scan, to its end or to a marker, is off by one amount.

    Parameters
    ----------
    srgb_u8 : ndarray, shape (h, w, 3)
        In full size.
    high, wide : int
        As from ``block_size``.
    interval : int
        As from ``restart_interval``; false where it is a row or less.
    """
    if _too_small(srgb_u8, high, wide) or 0 < interval <= _columns(srgb_u8, wide):
        return False
    along = _jump(_steps(srgb_u8, high, wide), broken_only=True)
    within = np.max([_jump(steps, broken_only=False) for steps in _steps_within(srgb_u8, high, wide)], axis=0)
    return bool(((along >= _LEVELS) & (along >= _TIMES * within)).any())


def rows_off(srgb_u8: npt.NDArray[np.uint8], high: int, wide: int, interval: int) -> npt.NDArray[np.intp]:
    """The rows of blocks that are off from some place to the right edge, counted from the top.

    Parameters
    ----------
    srgb_u8 : ndarray, shape (h, w, 3)
        In full size.
    high, wide : int
        As from ``block_size``.
    interval : int
        As from ``restart_interval``; none are found where it is not a row.
    """
    if _too_small(srgb_u8, high, wide) or interval != _columns(srgb_u8, wide):
        return np.zeros(0, np.intp)
    within = np.max([_largest_bars(steps) for steps in _steps_within(srgb_u8, high, wide)], axis=0)
    return np.flatnonzero(_bars(_steps(srgb_u8, high, wide), within))


def _too_small(srgb_u8: npt.NDArray[np.uint8], high: int, wide: int) -> bool:
    return min(high, wide) < 1 or srgb_u8.shape[1] // wide < _LEAST or srgb_u8.shape[0] < 5 * high


def _columns(srgb_u8: npt.NDArray[np.uint8], wide: int) -> int:
    """Blocks in a row, one that the edge cuts counted."""
    return int(-(-srgb_u8.shape[1] // wide))


def _bars(
    steps: npt.NDArray[np.float32], within: npt.NDArray[np.float64], share: float = 1.0
) -> npt.NDArray[np.bool_]:
    """Which rows of blocks hold a bar with such a share of the levels, and more than lies within the blocks.

    All but one of a bar's parts step into it and out of it by so much, in one sense. Where the blocks to the
    left of it step as much, the picture does so itself. The first and last row have one neighbour.
    """
    across = steps.shape[1]
    upper, lower = np.concatenate([-steps[:1], steps]), np.concatenate([-steps, steps[-1:]])
    sums = [_summed(side) for side in (upper, lower)]
    least_bar, least_short, least_row = (
        np.maximum(share * levels, _TIMES * natural)
        for levels, natural in zip((_BAR_LEVELS, _SHORT_LEVELS, _ROW_LEVELS), within[[0, 1, 0]], strict=True)
    )
    found = np.zeros(len(upper), np.bool_)
    for begin in range(across - _SHORTEST + 1):
        bar = _of_parts(sums, begin, across)
        if begin > 1:
            bar = np.where(_into(sums, max(0, begin - _PARTS), begin) < bar / 2, bar, 0)
        is_short = across - begin < _PARTS
        inner = bar[:, 1:-1] >= (least_row if begin < 2 else least_short if is_short else least_bar)
        found[1:-1] |= inner.any(axis=(0, 2))
        if begin > 1 and not is_short:
            found[[0, -1]] |= (bar[:, [0, -1]] >= least_row).any(axis=(0, 2))
    return found


def _largest_bars(steps: npt.NDArray[np.float32]) -> npt.NDArray[np.float64]:
    """The largest step into and out of any bar, whatever is left of it; of long and of short ones: (2, 3)."""
    across = steps.shape[1]
    sums = [_summed(side) for side in (steps[:-1], -steps[1:])]
    begins = range(across - _SHORTEST + 1)
    largest = [_of_parts(sums, begin, across).max(axis=(0, 1), initial=0) for begin in begins]
    longer = across - _PARTS + 1
    return np.stack([np.max(largest[:longer], axis=0), np.max(largest[longer:], axis=0)])


def _summed(steps: npt.NDArray[np.float32]) -> FloatArray:
    """Sums of clipped steps along the rows, from nought: (rows, blocks across + 1, 3)."""
    sums = np.cumsum(np.clip(steps, -_CLIP, _CLIP), axis=1, dtype=np.float64)
    return np.pad(sums, ((0, 0), (1, 0), (0, 0)))


def _into(sums: list[FloatArray], begin: int, end: int) -> FloatArray:
    """Mean step that is made on both sides upwards, and the same downwards: (2, rows, 3)."""
    upper, lower = ((side[:, end] - side[:, begin]) / (end - begin) for side in sums)
    return np.stack([np.minimum(upper, lower), np.minimum(-upper, -lower)])


def _of_parts(sums: list[FloatArray], begin: int, across: int) -> FloatArray:
    """The same of a bar to the right edge, by the second least of its parts, or the least of three."""
    count = min(_PARTS, across - begin)
    bounds = [begin + (across - begin) * part // count for part in range(count + 1)]
    steps = np.sort([_into(sums, *ends) for ends in itertools.pairwise(bounds)], axis=0)
    return np.asarray(steps[1 if count > _SHORTEST else 0])


def _jump(steps: npt.NDArray[np.float32], *, broken_only: bool) -> npt.NDArray[np.float64]:
    """The largest step (levels; luma, both chroma) along the lower edges of a picture's width of blocks.

    The blocks follow one another as they are coded. All but one of a window's parts have at least that
    step. An edge that runs along one row of blocks is passed over: a break shows in two, in both by as
    much.
    """
    across = steps.shape[1]
    sums = np.cumsum(np.clip(steps.reshape(-1, 3), -_CLIP, _CLIP), axis=0, dtype=np.float64)
    sums = np.vstack([np.zeros((1, 3)), sums])
    count = len(sums) - across
    bounds = [across * part // _PARTS for part in range(_PARTS + 1)]
    bottom = next_bottom = np.full((count, 3), np.inf)
    top = next_top = -bottom
    for start, end in itertools.pairwise(bounds):
        part_mean = (sums[end:][:count] - sums[start:][:count]) / (end - start)
        next_bottom = np.minimum(next_bottom, np.maximum(bottom, part_mean))
        next_top = np.maximum(next_top, np.minimum(top, part_mean))
        bottom, top = np.minimum(bottom, part_mean), np.maximum(top, part_mean)
    least = np.maximum(next_bottom, -next_top)
    if broken_only:
        clear = np.flatnonzero((least >= _LEVELS).any(axis=1))
        least = np.where(_begins_amid(sums, clear, across), least[clear], 0)
    return np.asarray(least.max(axis=0, initial=0))


def _begins_amid(sums: FloatArray, begins: npt.NDArray[np.intp], across: int) -> npt.NDArray[np.bool_]:
    """Whether both rows of a window step alike, and what they have outside it does not: (windows, 3)."""
    turn = (begins // across + 1) * across
    upper, lower = turn - begins, begins + across - turn

    def mean(start: npt.NDArray[np.intp], end: npt.NDArray[np.intp]) -> FloatArray:
        end = np.minimum(end, len(sums) - 1)
        return np.asarray((sums[end] - sums[start]) / np.maximum(end - start, 1)[:, np.newaxis])

    above, below = mean(begins, turn), mean(turn, begins + across)
    left_out = np.maximum(np.abs(mean(turn - across, begins)), np.abs(mean(begins + across, turn + across)))
    half = np.maximum(np.abs(above), np.abs(below)) / 2
    alike = np.minimum(above * np.sign(below), below * np.sign(above)) >= half
    return np.asarray(
        alike & (left_out < half) & (np.minimum(upper, lower) > across // 32 + 1)[:, np.newaxis]
    )


def _steps_within(srgb_u8: npt.NDArray[np.uint8], high: int, wide: int) -> Iterator[npt.NDArray[np.float32]]:
    """Steps along lines within the blocks, where no codes begin: what the picture itself does.

    Not only half a block down: the edge of a rope that lies along the picture, a little aslant, is at some of
    these lines where it is at the blocks' edges too. Five rows from a break its step is no more than a sixth.
    """
    for down in (high // 2,) if high < _TALL else (high // 2 - 3, high // 2, high // 2 + 3):
        yield _steps(srgb_u8[down:], high, wide)


def _steps(srgb_u8: npt.NDArray[np.uint8], high: int, wide: int) -> npt.NDArray[np.float32]:
    """Step from each block to the one below, less the slopes on both sides: (rows, blocks across, 3)."""
    height, across = len(srgb_u8), srgb_u8.shape[1] // wide
    means = np.empty((height, across, 3), np.float32)
    for start in range(0, height, _STRIP):  # in floats all at once is the most of the reading
        strip = np.ascontiguousarray(srgb_u8[start : start + _STRIP, : across * wide])
        light = cv2.cvtColor(strip, cv2.COLOR_RGB2YCrCb).astype(np.float32)
        cv2.resize(light, (across, len(strip)), means[start : start + _STRIP], interpolation=cv2.INTER_AREA)
    reach = max(1, min(3, high // 2))  # chroma that was made larger is smooth over two or three rows
    edges = np.arange(high, height, high)
    edges = edges[(edges >= 2 * reach) & (edges + 2 * reach <= height)]

    def rows(first: int) -> npt.NDArray[np.float32]:
        return np.asarray(np.mean([means[edges + first + row] for row in range(reach)], axis=0), np.float32)

    above, below = rows(-reach), rows(0)
    slopes = (above - rows(-2 * reach)) + (rows(reach) - below)
    return np.asarray(below - above - slopes / 2, np.float32)
