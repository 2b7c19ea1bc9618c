"""A JPEG whose blocks are lighter, darker or more strongly tinted than any picture: what lost bytes leave.

In a scan each block's mean is told as the difference to the one before it. Where bytes are lost and the codes
fall into step again, all means behind the break are off by one amount, and some lie where no encoder can have
put them: outside the samples' 0 to 255. Decoders cut them off there, so they are looked for in the same scan
decoded once more, small and with the means' steps made smaller.

Sources
-------
[1] ITU-T T.81 (JPEG), A.3.1: samples of 8 bits, of which the means are; A.3.4: quantisation; B.2.4.1: its
    tables; B.2.2: the frame's channels, their sampling and their tables.
[2] ITU-T T.872, 6.5.3: Adobe's APP14 segment; transform 0 says that channels are stored as they are shown.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

# As small again suffices: beyond twice the range the decoder may cut off.
_SMALLER = 2
_SIDE = 8  # pixels of a block, and levels of a mean to a step of one [1, A.3.3]
_AS_STORED = b"\xff\xee\x00\x0eAdobe\x00\x64\x00\x00\x00\x00\x00"
# An encoder is off by half a step (q / 16 levels), one that trades steps for bytes by twice that. The rest is
# for the rounding of two decodes. Of 62 whole photos the most was 1.5 where 5 were allowed.
_STEPS, _LEVELS = 2, 3.0
# What is cut off comes out as 0 or 255: whole photos of which no block does need no second decode. Of 140
# damaged ones with means out of range all had such; of 62 whole ones nine.
_NEARLY = 2


@dataclass(frozen=True, slots=True)
class Channel:
    """A channel of a scan made smaller.

    Attributes
    ----------
    high, wide : int
        Pixels of the small picture that one of its blocks covers.
    step : int
        Of its means as stored, in eighths of a level.
    gain : float
        By which its means were made smaller.
    """

    high: int
    wide: int
    step: int
    gain: float


def may_be_beyond(srgb_u8: npt.NDArray[np.uint8], divisor: int) -> bool:
    """Whether a block of a picture, decoded smaller by the divisor, is all at an end of the range."""
    side = _SIDE // divisor
    height, width = (length // side for length in srgb_u8.shape[:2])
    if min(height, width) < 1:
        return False
    blocks = srgb_u8[: height * side, : width * side]
    means = cv2.resize(blocks, (width, height), interpolation=cv2.INTER_AREA) if side > 1 else blocks
    return bool((np.minimum(means, 255 - means) < _NEARLY).any())


def with_smaller_steps(data: bytes) -> tuple[bytes, list[Channel]] | None:
    """The same scans with half the means' steps or less, in channels as stored; None where that cannot be.

    Parameters
    ----------
    data : bytes
        A JPEG of which the header was read before.
    """
    parts = [b"\xff\xd8", _AS_STORED]
    steps: dict[int, tuple[int, float]] = {}
    frame = b""
    at = 2
    while at + 4 <= len(data):
        marker, size = data[at + 1], struct.unpack_from(">H", data, at + 2)[0]
        segment = data[at : at + 2 + size]
        if marker == 0xFF:
            at += 1
            continue
        if marker == 0xDA:
            parts.append(data[at:])
            break
        if marker == 0xDB:
            segment = _smaller(bytearray(segment), steps)
        if 0xC0 <= marker <= 0xC2:
            frame = segment
        if marker in (0xDB, 0xDD) or 0xC0 <= marker <= 0xCF:
            parts.append(segment)
        at += 2 + size
    sampling = [(max(1, one & 15), max(1, one >> 4)) for one in frame[11::3]]
    if not sampling or not steps.keys() >= set(frame[12::3]):
        return None
    high, wide = (max(sides) for sides in zip(*sampling, strict=True))
    channels = [
        Channel(high // rows, wide // columns, *steps[table])
        for (rows, columns), table in zip(sampling, frame[12::3], strict=True)
    ]
    return b"".join(parts), channels


def _smaller(tables: bytearray, steps: dict[int, tuple[int, float]]) -> bytes:
    """A segment of quantisation tables, each with its first entry made smaller; steps tells by how much."""
    at = 4
    while at < len(tables):
        form, number = (">H", 3) if tables[at] >> 4 else (">B", 2)
        table = tables[at] & 15
        step = struct.unpack_from(form, tables, at + 1)[0]
        less = max(1, step // _SMALLER)
        struct.pack_into(form, tables, at + 1, less)
        steps[table] = step, less / max(step, 1)
        at += 1 + 64 * (number - 1)
    return bytes(tables)


def is_beyond(stored: npt.NDArray[np.uint8], channels: list[Channel]) -> bool:
    """Whether a block's mean lies outside the range of its samples.

    Parameters
    ----------
    stored : uint8 ndarray, shape (h, w, 3)
        What ``with_smaller_steps`` made, decoded to an eighth of its size.
    channels : list of Channel
    """
    for number, channel in enumerate(channels):
        height, width = stored.shape[0] // channel.high, stored.shape[1] // channel.wide
        if min(height, width) < 1:
            continue
        blocks = stored[: height * channel.high, : width * channel.wide, number].astype(np.float32)
        means = cv2.resize(blocks, (width, height), interpolation=cv2.INTER_AREA)
        beyond = np.abs(means - 127.5) / channel.gain - 127.5
        if (beyond > _STEPS * channel.step / _SIDE + _LEVELS).any():
            return True
    return False
