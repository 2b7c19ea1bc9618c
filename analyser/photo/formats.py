"""What a photo file says about itself, read from its bytes before any pixel is decoded.

Parsers of our own, because the plain JPEG path must not pay for importing an imaging library, and
because sizes, truncation and kinds the tool cannot use have to be known before a decoder allocates.
They raise ``UnreadableError`` with what is wrong and what to do; ``reading`` adds the file's name.

Sources
-------
[1] ITU-T T.81 (JPEG), annex B: markers and segments.
[2] ICC.1:2022, annex B: profiles embedded in JPEG (APP2) and TIFF (tag 34675).
[3] TIFF 6.0 (1992), and BigTIFF.
[4] PNG specification, third edition (W3C 2025): chunks, their order of precedence.
[5] RFC 9649: WebP container.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

from analyser.photo.exif import LARGEST_PROFILE, Directories, Exif, read_exif

READS = "JPEG, PNG, TIFF, WebP or HEIC"
DAMAGED = "is cut short or damaged; copy it again from where it came"
# libjpeg's own way of writing progressively has 10 scans; the most that tell all bits apart in three
# channels 60 or so.
_MOST_SCANS = 64
GAIN_MAP = "the file also holds an HDR gain map; its standard picture was read, without the map"


class UnreadableError(ValueError):
    """A file that cannot be used as a photo; the text says why and what to do, without its name."""


@dataclass(frozen=True, slots=True)
class Header:
    """A photo file's own account of itself.

    Attributes
    ----------
    kind : str
        ``"JPEG"``, ``"PNG"``, ``"TIFF"``, ``"WebP"`` or ``"HEIC"``.
    width, height : int
        As stored, before any turn.
    bits : int
        Bits a channel as stored.
    orientation : int
        EXIF orientation 1 to 8; 1 where the file gives none.
    icc : bytes or None
        Embedded ICC profile; ``b""`` where one is announced but unusable.
    cicp : tuple of int or None
        Code points of primaries, transfer, matrix (ITU-T H.273).
    chrm : tuple of 8 float or None
        Chromaticities white x, y, red x, y, green x, y, blue x, y.
    gamma : float or None
        Exponent that encoded the file, as in PNG's gAMA (0.45455 for 1/2.2).
    srgb : bool
        The file says it is sRGB.
    adobe_rgb : bool
        EXIF marks the file as Adobe RGB (1998).
    focal_35mm : float or None
        The lens's focal length as EXIF tells it, on 35 mm film.
    grey : bool
        One channel of colour.
    white_is_zero, premultiplied, uncompressed : bool
        How TIFF samples are to be taken.
    notes : tuple of str
        For the user.
    """

    kind: str
    width: int
    height: int
    bits: int = 8
    orientation: int = 1
    icc: bytes | None = None
    cicp: tuple[int, int, int] | None = None
    chrm: tuple[float, ...] | None = None
    gamma: float | None = None
    srgb: bool = False
    adobe_rgb: bool = False
    focal_35mm: float | None = None
    grey: bool = False
    white_is_zero: bool = False
    premultiplied: bool = False
    uncompressed: bool = False
    notes: tuple[str, ...] = ()


def kind_of(start: bytes) -> str:
    """The format of a file by its first 32 bytes, never by its name.

    Raises
    ------
    UnreadableError
        If it is none of those that can be read.
    """
    if start.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if start.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if start[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return "TIFF"
    if start[:4] == b"RIFF" and start[8:12] == b"WEBP":
        return "WebP"
    if start[4:8] == b"ftyp":
        brand = start[8:12]
        if len(brand) < 4:
            raise UnreadableError(DAMAGED)
        if brand in (b"heic", b"heix", b"heim", b"heis", b"mif1", b"msf1", b"hevc", b"hevx"):
            return "HEIC"
        other = {b"avif": "an AVIF picture", b"avis": "an AVIF animation", b"crx ": "a camera's raw file"}
        raise UnreadableError(f"is {other.get(brand, 'a film, not a photo')}; save it as {READS}")
    others = {
        b"GIF8": "a GIF",
        b"BM": "a BMP picture",
        b"8BPS": "a layered picture",
        b"%PDF": "a PDF",
        b"\0\0\0\x0cjP": "a JPEG 2000 picture",
        b"\0\0\0\x0cJXL": "a JPEG XL picture",
        b"\xff\x0a": "a JPEG XL picture",
    }
    for magic, name in others.items():
        if start.startswith(magic):
            raise UnreadableError(f"is {name}, which is not read; save it as {READS}")
    raise UnreadableError(f"is not a photo; expected {READS}")


def header_of(kind: str, data: bytes) -> Header:
    """Read the header of a JPEG, PNG, TIFF or WebP file.

    Raises
    ------
    UnreadableError
        If the file is cut short, damaged, or of a kind that cannot be used.
    """
    parse = {"JPEG": _jpeg, "PNG": _png, "TIFF": _tiff, "WebP": _webp}[kind]
    try:
        header = parse(data)
    except UnreadableError:
        raise
    except (struct.error, IndexError, ValueError) as error:
        raise UnreadableError(DAMAGED) from error
    if header.width < 1 or header.height < 1:
        raise UnreadableError(DAMAGED)
    return header


# --- JPEG ---------------------------------------------------------------------------------------


def _jpeg_segments(data: bytes) -> Iterator[tuple[int, int, int]]:
    """Marker, start and end of each segment's payload, up to and with the first scan's header."""
    at = 2
    while True:
        if data[at] != 0xFF:
            raise UnreadableError(DAMAGED)
        while data[at] == 0xFF:  # fill bytes may stand before a marker [1, B.1.1.2]
            at += 1
        marker, size = data[at], struct.unpack_from(">H", data, at + 1)[0]
        if size < 2 or at + 1 + size > len(data):
            raise UnreadableError(DAMAGED)
        yield marker, at + 3, at + 1 + size
        if marker == 0xDA:
            return
        at += 1 + size


def _jpeg(data: bytes) -> Header:
    header, icc, scan = None, {}, 0
    exif, gain_map, chunks = Exif(), False, 0
    for marker, start, end in _jpeg_segments(data):
        if 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            bits, height, width, channels = struct.unpack_from(">BHHB", data, start)
            if channels == 4:
                raise UnreadableError("is in CMYK, for printing; save it as an RGB JPEG or PNG")
            if bits != 8 or channels not in (1, 3):
                raise UnreadableError(
                    f"is a JPEG of {bits} bits and {channels} channels; save it as PNG or TIFF"
                )
            header = Header("JPEG", width, height, grey=channels == 1)
        elif marker == 0xE1:
            if data.startswith(b"Exif\0\0", start):
                exif = read_exif(data[start + 6 : end])
            elif data.startswith(b"http://ns.adobe.com/x", start):
                text = data[start:end]
                gain_map = gain_map or b"hdrgm:" in text or b"hdrgainmap" in text.lower()
        elif marker == 0xE2:
            if data.startswith(b"ICC_PROFILE\0", start):
                icc[data[start + 12]] = data[start + 14 : end]
                chunks = data[start + 13]
            gain_map = gain_map or data.startswith(b"urn:iso:std:iso:ts:21496:-1", start)
        elif marker == 0xDA:
            scan = end
    if header is None:
        raise UnreadableError(DAMAGED)
    # Each takes as long as a picture of its own; the first one is not counted.
    if data.count(b"\xff\xda", scan) >= _MOST_SCANS:
        raise UnreadableError("is a JPEG of too many passes to be a photo; save it anew as JPEG or PNG")
    # Inside a scan 0xFF is always followed by 0 or a restart marker, so an end marker is a real
    # one; from behind, because it is nearly always the last two bytes.
    if data.rfind(b"\xff\xd9", scan) < 0:
        raise UnreadableError(DAMAGED)
    whole = b"".join(icc.get(i, b"") for i in range(1, chunks + 1)) if len(icc) == chunks else b""
    return replace(
        header,
        icc=whole if icc else None,
        orientation=exif.orientation,
        srgb=exif.srgb,
        adobe_rgb=exif.adobe_rgb,
        focal_35mm=exif.focal_35mm,
        notes=(GAIN_MAP,) if gain_map else (),
    )


# --- TIFF -------------------------------------------------------------------------------------------


def _tiff(data: bytes) -> Header:
    directories = Directories(data)
    tags, next_page = directories.directory(directories.first)

    def tag(number: int, default: int) -> int:
        return directories.first_value(tags, number, default)

    photometric = tag(262, 1)
    if tag(254, 0) & 1 or photometric in (32803, 34892) or 50706 in tags or data[8:10] == b"CR":
        raise UnreadableError("is a camera's raw file; develop it and save it as JPEG, PNG or 16-bit TIFF")
    if photometric == 5:
        raise UnreadableError("is in CMYK, for printing; save it as an RGB TIFF, JPEG or PNG")
    if photometric not in (0, 1, 2, 3, 6):
        raise UnreadableError("is a TIFF in neither RGB nor grey; save it as an RGB TIFF, JPEG or PNG")
    bits = tag(258, 1)
    if bits > 16 or tag(339, 1) != 1:
        raise UnreadableError("is a TIFF of more than 16 bits or with decimal numbers; save it with 16 bits")
    if bits == 16 and tag(284, 1) == 2:
        raise UnreadableError(
            "is a 16-bit TIFF in separate colour planes; save it interleaved (the usual way)"
        )
    icc = tags.get(34675)
    exif = read_exif(data)
    return Header(
        "TIFF",
        tag(256, 0),
        tag(257, 0),
        bits=bits,
        orientation=exif.orientation,
        icc=icc if isinstance(icc, bytes) else None,
        srgb=exif.srgb,
        adobe_rgb=exif.adobe_rgb,
        focal_35mm=exif.focal_35mm,
        grey=photometric <= 1,
        white_is_zero=photometric == 0,
        premultiplied=tag(338, 0) == 1,
        uncompressed=tag(259, 1) == 1,
        notes=("the file has more than one page; the first was read",) if next_page else (),
    )


# --- PNG ----------------------------------------------------------------------------------------


def _png(data: bytes) -> Header:
    chunks: dict[bytes, bytes] = {}
    at = 8
    while at + 12 <= len(data):
        size, name = struct.unpack_from(">I4s", data, at)
        end = at + 8 + size
        if end + 4 > len(data):
            break
        if zlib.crc32(memoryview(data)[at + 4 : end]) != struct.unpack_from(">I", data, end)[0]:
            raise UnreadableError(DAMAGED)
        chunks.setdefault(name, b"" if name == b"IDAT" else data[at + 8 : end])
        at = end + 4
        if name == b"IEND":
            break
    if b"IEND" not in chunks or b"IHDR" not in chunks or b"IDAT" not in chunks:
        raise UnreadableError(DAMAGED)
    if b"acTL" in chunks and struct.unpack_from(">I", chunks[b"acTL"])[0] > 1:
        raise UnreadableError("is an animation; save one of its pictures as PNG or JPEG")
    width, height, bits, colours = struct.unpack_from(">IIBB", chunks[b"IHDR"])
    exif = read_exif(chunks.get(b"eXIf", b""))
    grey = colours in (0, 4)
    header = Header("PNG", width, height, bits=bits, orientation=exif.orientation, grey=grey)
    # Precedence: cICP, iCCP, sRGB, then gAMA with cHRM [4, 4.3].
    if b"cICP" in chunks:
        primaries, transfer, matrix, full = chunks[b"cICP"][:4]
        if full != 1 or matrix != 0:
            says = "its cICP chunk is not of full-range RGB and was left out of account"
            return replace(header, notes=(says,))
        return replace(header, cicp=(primaries, transfer, matrix))
    if b"iCCP" in chunks:
        return replace(header, icc=_inflated(chunks[b"iCCP"].partition(b"\0")[2][1:]))
    if b"sRGB" in chunks:
        return replace(header, srgb=True)
    chrm = gamma = None
    if b"cHRM" in chunks:
        chrm = tuple(value / 100000 for value in struct.unpack_from(">8I", chunks[b"cHRM"]))
    if b"gAMA" in chunks:
        gamma = struct.unpack_from(">I", chunks[b"gAMA"])[0] / 100000
    return replace(
        header, chrm=chrm, gamma=gamma, srgb=exif.srgb, adobe_rgb=exif.adobe_rgb, focal_35mm=exif.focal_35mm
    )


def _inflated(packed: bytes) -> bytes:
    """A profile out of its zlib stream; empty where that is damaged or a bomb."""
    try:
        unpacker = zlib.decompressobj()
        profile = unpacker.decompress(packed, LARGEST_PROFILE)
    except zlib.error:
        return b""
    return profile if unpacker.eof else b""


# --- WebP ---------------------------------------------------------------------------------------


def _webp(data: bytes) -> Header:
    if struct.unpack_from("<I", data, 4)[0] + 8 > len(data):
        raise UnreadableError(DAMAGED)
    chunks: dict[bytes, bytes] = {}
    at = 12
    while at + 8 <= len(data):
        name, size = struct.unpack_from("<4sI", data, at)
        keep = size if name in (b"ICCP", b"EXIF") else min(size, 16)
        chunks.setdefault(name, data[at + 8 : at + 8 + keep])
        at += 8 + size + size % 2
    if b"ANIM" in chunks:
        raise UnreadableError("is an animation; save one of its pictures as PNG or JPEG")
    if b"VP8X" in chunks:
        low_w, high_w, low_h, high_h = struct.unpack_from("<HBHB", chunks[b"VP8X"], 4)
        width, height = 1 + low_w + (high_w << 16), 1 + low_h + (high_h << 16)
    elif b"VP8L" in chunks:
        packed = struct.unpack_from("<I", chunks[b"VP8L"], 1)[0]
        width, height = 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF)
    elif b"VP8 " in chunks:
        width, height = (side & 0x3FFF for side in struct.unpack_from("<HH", chunks[b"VP8 "], 6))
    else:
        raise UnreadableError(DAMAGED)
    exif = read_exif(chunks.get(b"EXIF", b"").removeprefix(b"Exif\0\0"))
    return Header(
        "WebP",
        width,
        height,
        orientation=exif.orientation,
        icc=chunks.get(b"ICCP"),
        srgb=exif.srgb,
        adobe_rgb=exif.adobe_rgb,
        focal_35mm=exif.focal_35mm,
    )
