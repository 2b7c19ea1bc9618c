"""What cannot be in a whole photo file: stretches of nought where compressed pixels should be.

A copy that broke off, or a card that failed, leaves nought in place of data, and decoders make up a picture
from it. Compressed pixels look random, so long runs of nought give the damage away; how long a run may be
depends on the format.

Sources
-------
[1] ITU-T H.265, 7.3.1.1 and 7.4.2: three bytes of nought never stand in a NAL unit.
[2] ISO/IEC 14496-12, 8.11.3 and 8.11.6: where an item's bytes lie (iloc), and its kind (infe).
[3] RFC 9649: WebP container; RFC 6386: its lossy pictures.
[4] ITU-T T.81 (JPEG), annexes B and C: Huffman tables; codes count up from one of nought bits only.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator, Sequence

import cv2
import numpy as np
import numpy.typing as npt

# [1] allows two in a unit; four more may be the length before it and what little stands behind it.
_HEVC_RUN = 8
# Pillow's lossy WebP of plain pictures holds at most a byte of nought for 10,000 pixels, its lossless WebP
# none of four bytes (flat, disc and noise in four colours, 0.3 and 12 MP).
_WEBP_RUN, _WEBP_PIXELS = 32, 8000
_WEBP_LOSSLESS_RUN = 16
# JPEGs of the same pictures by standard tables: none of four bytes.
_JPEG_RUN = 32
_END_OF_BLOCK = 0
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")  # [4, B.1.1.2]: the others may stand in a scan
# A sector of 512 bytes holds 85 pixels of 16 bits or 170 of 8. Lit is what no shadow is, after the curve.
_MISSING_RUN, _LIT, _LIT_SHARE = 80, 0.06, 0.9
_NOT_WRITTEN = 0.01  # of the height: a black edge of a pixel or two is a scanner's


def has_hole(kind: str, data: bytes, pixels: int) -> bool:
    """Whether nought stands where compressed pixels of a JPEG, WebP or HEIC file should be.

    Parameters
    ----------
    kind : str
        As in ``Header``.
    data : bytes
        The whole file, its header read before.
    pixels : int
        Of the picture.
    """
    try:
        if kind == "HEIC":
            return any(_longest(data[a:b], _HEVC_RUN) for a, b in _hevc_items(data))
        if kind == "WebP":
            return any(
                _longest(part, _WEBP_LOSSLESS_RUN if name == b"VP8L" else _WEBP_RUN + pixels // _WEBP_PIXELS)
                for name, part in _webp_pictures(data)
            )
        return kind == "JPEG" and _jpeg_hole(data)
    except (struct.error, IndexError, ValueError):
        return False  # a form these few lines do not know; the decoder judges it


def is_deflated_whole(data: bytes, starts: Sequence[int], sizes: Sequence[int]) -> bool:
    """Whether each strip or tile of a deflated TIFF is as its checksum says; the decoder does not look."""
    try:
        for start, size in zip(starts, sizes, strict=True):
            zlib.decompress(data[start : start + size])
    except (zlib.error, ValueError):
        return False
    return True


def rows_not_written(stored: npt.NDArray[np.uint8] | npt.NDArray[np.uint16]) -> int:
    """How many rows at the foot of an uncompressed picture may never have been written.

    Pure black to the last pixel is what a broken copy leaves there, and what few photos end in. The row it
    begins in is counted.

    Parameters
    ----------
    stored : ndarray, shape (h, w, 3)
    """
    height = len(stored)
    written = np.flatnonzero(stored.reshape(height, -1).any(axis=1))
    last = int(written[-1]) if len(written) else 0
    black = height - 1 - last
    return black + 1 if black >= max(1, round(_NOT_WRITTEN * height)) else 0


def missing(stored: npt.NDArray[np.uint8] | npt.NDArray[np.uint16]) -> npt.NDArray[np.bool_]:
    """Where a piece of an uncompressed picture is missing, which a failing card leaves as nought.

    Pixels follow one another row by row in the file, and so does what is missing: pure black from one pixel
    of a row to another of the same or a later row, while what lies right above and below is lit.

    Parameters
    ----------
    stored : ndarray, shape (h, w, 3)

    Returns
    -------
    ndarray, shape (h, w)
    """
    height, width = stored.shape[:2]
    largest = float(np.iinfo(stored.dtype).max)
    black = cv2.inRange(stored, (0, 0, 0), (0, 0, 0)).reshape(-1) > 0
    ends = np.flatnonzero(np.diff(black, prepend=False, append=False))
    begins, ends = ends[::2], ends[1::2]
    long = (ends - begins >= _MISSING_RUN) & ((begins % width > 0) | (ends % width > 0))
    begins, ends = begins[long], ends[long]
    lit = cv2.inRange(stored, (0, 0, 0), (largest * _LIT,) * 3).reshape(-1) == 0
    sums = np.concatenate([[0], np.cumsum(lit)])

    def share_lit(start: npt.NDArray[np.intp], end: npt.NDArray[np.intp]) -> npt.NDArray[np.float64]:
        start, end = np.clip(start, 0, len(lit)), np.clip(end, 0, len(lit))
        return np.asarray((sums[end] - sums[start]) / np.maximum(end - start, 1))

    above = share_lit(begins - width, np.minimum(ends - width, begins))
    below = share_lit(np.maximum(begins + width, ends), ends + width)
    sure = np.minimum(above, below) >= _LIT_SHARE
    found = np.zeros(height * width, np.bool_)
    for begin, end in zip(begins[sure], ends[sure], strict=True):
        found[begin:end] = True
    return found.reshape(height, width)


def _longest(part: bytes, run: int) -> bool:
    """Whether so many bytes of nought follow one another."""
    return bytes(run) in part


# --- WebP ---------------------------------------------------------------------------------------


def _webp_pictures(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 12
    while at + 8 <= len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        if name in (b"VP8 ", b"VP8L"):
            yield name, data[at + 8 : at + 8 + size]
        at += 8 + size + size % 2


# --- JPEG ---------------------------------------------------------------------------------------


def _jpeg_hole(data: bytes) -> bool:
    """A hole in a scan that holds no nought by right.

    Nought bits are the first code of a table. Where that ends a block in every table, of both kinds, a plain
    area is written as nought. In progressive files first passes over the waves skip plain areas by runs; the
    other passes are single bits, often nought.
    """
    at, progressive = 2, False
    first: dict[int, int] = {}
    while at + 4 <= len(data):
        marker, size = data[at + 1], struct.unpack_from(">H", data, at + 2)[0]
        body = data[at + 4 : at + 2 + size]
        at += 2 + size
        if marker == 0xC4:
            first.update(_first_symbols(body))
        elif marker in (0xC2, 0xC6):
            progressive = True
        elif marker == 0xDA:
            begin, _, refined = body[-3:]
            following = _NEXT_MARKER.search(data, at)
            scan, at = (
                data[at : following.start() if following else None],
                following.start() if following else at,
            )
            packed = (
                begin > 0 and refined >> 4 == 0 if progressive else set(first.values()) != {_END_OF_BLOCK}
            )
            if packed and _longest(scan.rstrip(b"\0"), _JPEG_RUN):  # some cameras pad the end
                return True
            if not progressive or following is None or data[at + 1] == 0xD9:
                return False
    return False


def _first_symbols(tables: bytes) -> Iterator[tuple[int, int]]:
    """Class and place of each Huffman table, and the symbol of its first code [4, B.2.4.2]."""
    at = 0
    while at < len(tables):
        yield tables[at], tables[at + 17]
        at += 17 + sum(tables[at + 1 : at + 17])


# --- HEIC ---------------------------------------------------------------------------------------


def _boxes(data: bytes, start: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Name, start and end of the content of each box."""
    while start + 8 <= end:
        size, name = struct.unpack_from(">I4s", data, start)
        head = 8
        if size == 1:
            size, head = struct.unpack_from(">Q", data, start + 8)[0], 16
        size = size or end - start
        if size < head:
            return
        yield name, start + head, min(start + size, end)
        start += size


def _hevc_items(data: bytes) -> list[tuple[int, int]]:
    """Where the bytes of HEVC pictures lie in the file."""
    meta = next(((a, b) for name, a, b in _boxes(data, 0, len(data)) if name == b"meta"), None)
    if meta is None:
        return []
    parts = {name: (a, b) for name, a, b in _boxes(data, meta[0] + 4, meta[1])}
    pictures = {
        struct.unpack_from(">H" if entry[1] == 2 else ">I", data, entry[0])[0]
        for entry in _item_infos(data, *parts[b"iinf"])
    }
    return [extent for item, extent in _extents(data, parts[b"iloc"][0]) if item in pictures]


def _item_infos(data: bytes, start: int, end: int) -> Iterator[tuple[int, int]]:
    """Where the number of each HEVC item stands, and the version of its entry [2, 8.11.6]."""
    for found in re.finditer(b"infe([\2\3])", data[start:end]):
        version, at = found[1][0], start + found.end() + 3
        kind = at + (4 if version == 2 else 6)
        if data[kind : kind + 4] == b"hvc1":
            yield at, version


def _extents(data: bytes, at: int) -> Iterator[tuple[int, tuple[int, int]]]:
    """Item and start and end in the file of each extent, those in other boxes left out [2, 8.11.3]."""
    version, sizes = data[at], struct.unpack_from(">H", data, at + 4)[0]
    offset_size, length_size, base_size = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
    index_size = sizes & 15 if version else 0
    wide = 4 if version == 2 else 2

    def number(size: int) -> int:
        nonlocal at
        at += size
        return int.from_bytes(data[at - size : at], "big")

    at += 6
    for _ in range(number(wide)):
        item = number(wide)
        method = number(2) & 15 if version else 0
        number(2)
        base = number(base_size)
        for _ in range(number(2)):
            number(index_size)
            offset, length = number(offset_size), number(length_size)
            if method == 0:
                yield item, (base + offset, base + offset + length)
