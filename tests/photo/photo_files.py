"""Small photo files of known colour, made for the tests of reading."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
from PIL import Image

from analyser.photo import profiles

HEIC = Path(__file__).parent / "heic"
PATCHES = np.array(
    [[(200, 40, 40), (40, 160, 60), (30, 60, 180)], [(230, 230, 230), (120, 120, 120), (20, 20, 20)]],
    np.uint8,
)


def picture() -> np.ndarray:
    """Six flat patches, 64 rows and 96 columns."""
    return np.repeat(np.repeat(PATCHES, 32, axis=0), 32, axis=1)


def srgb_linear(codes: np.ndarray) -> np.ndarray:
    return profiles.srgb_curve(np.asarray(codes, float))


def patches_of(linear: np.ndarray) -> np.ndarray:
    """The six patch centres of an upright reading."""
    h, w = linear.shape[:2]
    return linear[np.ix_([h // 4, 3 * h // 4], [w // 6, w // 2, 5 * w // 6])]


def save(path: Path, pixels: np.ndarray | None = None, **options: object) -> Path:
    stored = picture() if pixels is None else pixels
    suffix = path.suffix.lower()
    if suffix in (".jpg", ".jpeg"):
        options = {"quality": 98, "subsampling": 0, **options}
    if suffix == ".webp":
        options = {"lossless": True, "exact": True, **options}
    Image.fromarray(stored).save(path, **options)
    return path


def exif_of(orientation: int = 1, *, adobe: bool = False) -> bytes:
    """An EXIF block by hand: orientation, and the DCF mark of Adobe RGB."""
    order, main = b"MM\0*" + struct.pack(">I", 8), struct.pack(">HHIHH", 0x0112, 3, 1, orientation, 0)
    if not adobe:
        return b"Exif\0\0" + order + struct.pack(">H", 1) + main + struct.pack(">I", 0)
    main += struct.pack(">HHII", 0x8769, 4, 1, 38)
    sub = struct.pack(">H", 2) + struct.pack(">HHIHH", 0xA001, 3, 1, 0xFFFF, 0)
    sub += struct.pack(">HHII", 0xA005, 4, 1, 68) + struct.pack(">I", 0)
    interop = struct.pack(">H", 1) + struct.pack(">HHI4s", 0x0001, 2, 4, b"R03\0") + struct.pack(">I", 0)
    return b"Exif\0\0" + order + struct.pack(">H", 2) + main + struct.pack(">I", 0) + sub + interop


def png_chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def png_with(path: Path, *chunks: tuple[bytes, bytes]) -> Path:
    """The picture as PNG with chunks put before its pixels."""
    stream = io.BytesIO()
    Image.fromarray(picture()).save(stream, "PNG")
    data = stream.getvalue()
    at = 8 + 25  # signature and IHDR
    path.write_bytes(data[:at] + b"".join(png_chunk(*chunk) for chunk in chunks) + data[at:])
    return path
