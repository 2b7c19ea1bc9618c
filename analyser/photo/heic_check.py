"""HEIC files that libheif's binding dies of, refused before it sees them or decodes them.

Sources
-------
[1] ISO/IEC 14496-12, 8.11.6: item information (infe).
[2] ISO/IEC 14496-15, 8.3.3.1: the decoder's configuration (hvcC) and that what it says must be as in the
    parameter sets it holds.
[3] ITU-T H.265, 7.3.1, 7.3.2.2, 7.3.3 and 9.2: NAL units, sequence parameter sets (SPS), profile, Exp-Golomb
    codes.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator

from analyser.photo.formats import DAMAGED, UnreadableError

_SPS = 33
_PROFILE_BITS, _LEVEL_BITS = 88, 8


def check_texts(data: bytes) -> None:
    """Refuse a file whose list of items is damaged in its texts.

    Raises
    ------
    UnreadableError
        If an item's type or text is not plain text [1].
    """
    at = 0
    while at + 16 <= len(data):
        size, name, long_size = struct.unpack_from(">I4sQ", data, at)
        size = long_size if size == 1 else size or len(data) - at
        if size < 8:
            return
        box = data[at : at + size] if name == b"meta" else b""
        for entry in re.finditer(b"infe[\2\3]", box):
            start = entry.start() + (12 if box[entry.end() - 1] == 2 else 14)
            end = entry.start() - 4 + struct.unpack_from(">I", box, entry.start() - 4)[0]
            if not box[start:end].isascii():
                raise UnreadableError(DAMAGED)
        at += size


def check_depth(data: bytes) -> None:
    """Refuse a grey picture whose configuration states other bits than its samples have.

    The binding takes room by the one and fills it by the other: it writes past its end.

    Raises
    ------
    UnreadableError
        If they differ [2], or cannot be read.
    """
    try:
        for found in re.finditer(b"hvcC", data):
            box = data[found.end() : found.start() - 4 + struct.unpack_from(">I", data, found.start() - 4)[0]]
            stated = 8 + (box[17] & 7)
            if {_bits_of(sps) for sps in _parameter_sets(box)} != {stated}:
                raise UnreadableError(DAMAGED)
    except (struct.error, IndexError, ValueError) as error:
        raise UnreadableError(DAMAGED) from error


def _parameter_sets(box: bytes) -> Iterator[bytes]:
    """The SPS in a decoder's configuration."""
    at = 23
    for _ in range(box[22]):
        kind, count = box[at] & 63, struct.unpack_from(">H", box, at + 1)[0]
        at += 3
        for _ in range(count):
            size = struct.unpack_from(">H", box, at)[0]
            if kind == _SPS:
                yield box[at + 2 : at + 2 + size]
            at += 2 + size


def _bits_of(sps: bytes) -> int:
    """Bits of a luma sample [3, 7.3.2.2]."""
    payload = sps[2:].replace(b"\0\0\3", b"\0\0")
    bits = "".join(f"{byte:08b}" for byte in payload)
    at = 4

    def number(size: int) -> int:
        nonlocal at
        at += size
        return int(bits[at - size : at], 2)

    def coded() -> int:  # ue(v) [3, 9.2]
        nonlocal at
        zeros = bits.index("1", at) - at
        at += zeros
        return number(zeros + 1) - 1

    layers = number(3)
    at += 1 + _PROFILE_BITS + _LEVEL_BITS
    present = [(number(1), number(1)) for _ in range(layers)]
    at += 2 * (8 - layers) if layers else 0
    for profile, level in present:
        at += profile * _PROFILE_BITS + level * _LEVEL_BITS
    coded()  # its number
    if coded() == 3:  # colours are planes of their own, or not
        number(1)
    for _ in range(2):  # width and height
        coded()
    for _ in range(4 * number(1)):  # what is cut off at the edges
        coded()
    return 8 + coded()
