"""The stored pixels of a photo file, through OpenCV, Pillow (8-bit TIFF) and libheif (HEIC).

Raises ``UnreadableError`` with what is wrong; ``reading`` adds the file's name.
"""

from __future__ import annotations

import os
import re
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, Any

import cv2
import numpy as np
import numpy.typing as npt

from analyser.photo import broken_scan, scan_range
from analyser.photo.damage import is_deflated_whole
from analyser.photo.exif import read_exif
from analyser.photo.formats import DAMAGED, GAIN_MAP, Header, UnreadableError
from analyser.photo.heic_check import check_depth, check_texts

Stored = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]

# libjpeg tells of damage inside a picture only on standard error and fills the rest with grey.
_JPEG_DAMAGE = re.compile(r"Corrupt JPEG data: (?!\d+ extraneous)|Premature end|Unsupported marker")
# Some cameras leave a few bytes of padding at the end, which harms nothing; a lost piece of picture leaves
# hundreds, or some that are no padding, or some amid the picture. The line between is ours (from memory, no
# source).
_JPEG_EXTRA = re.compile(r"Corrupt JPEG data: (\d+) extraneous bytes before marker 0x(..)")
_HARMLESS_EXTRA = 64
_PADDING = b"\0\xff"
_AS_STORED = cv2.IMREAD_COLOR_RGB | cv2.IMREAD_IGNORE_ORIENTATION
# OpenCV takes the "grey" reductions with the RGB flag for a reduced picture in RGB order.
_REDUCED = {1: 0, 2: 16, 4: 32, 8: 64}
_DEFLATE = (8, 32946)  # TIFF technical note 2 (2002); the older code of the same
_WHERE_PIXELS_LIE = ((273, 324), (279, 325))  # starts and sizes of strips, or of tiles
_capture_lock = threading.Lock()


@contextmanager
def _captured_stderr() -> Iterator[list[str]]:
    """What C libraries print to standard error, as one text; the list is filled on leaving."""
    said: list[str] = []
    with _capture_lock, tempfile.TemporaryFile() as caught:
        try:
            kept = os.dup(2)
        except OSError:  # no standard error, as in a windowed program
            yield said
            return
        os.dup2(caught.fileno(), 2)
        try:
            yield said
        finally:
            os.dup2(kept, 2)
            os.close(kept)
            said.append(_text(caught))


def _text(file: IO[bytes]) -> str:
    file.seek(0)
    return file.read(100_000).decode("utf-8", "replace")


def _opencv(data: bytes, flags: int) -> Any:
    """Decode by OpenCV; libraries' own remarks are judged, not shown."""
    with _captured_stderr() as said:
        try:
            stored = cv2.imdecode(np.frombuffer(data, np.uint8), flags)
        except (cv2.error, MemoryError) as error:
            raise UnreadableError("cannot be decoded; save it anew as JPEG, PNG or TIFF") from error
    if stored is None or (said and (_JPEG_DAMAGE.search(said[0]) or _is_more_than_padding(said[0], data))):
        raise UnreadableError(DAMAGED)
    return stored


def _is_more_than_padding(said: str, data: bytes) -> bool:
    """Whether what libjpeg passed over before a marker may be lost picture."""
    for count, marker in _JPEG_EXTRA.findall(said):
        end = data.rfind(b"\xff\xd9")
        passed_over = data[end - int(count) : end]
        if marker != "d9" or int(count) > _HARMLESS_EXTRA or passed_over.strip(_PADDING):
            return True
    return False


def decode(data: bytes, header: Header, at_least: float | None) -> tuple[Stored, Stored | None, bool]:
    """Pixels of a file other than HEIC.

    Parameters
    ----------
    data : bytes
    header : Header
    at_least : float or None
        A JPEG may be decoded smaller, as long as so many pixels remain.

    Returns
    -------
    colour : uint8 or uint16 ndarray, shape (h, w, 3)
    alpha : the same type, shape (h, w), or None
        Of a JPEG 0 where the scan is broken.
    upright : bool
        Whether the orientation has been applied already.
    """
    if header.kind == "JPEG":
        return *_jpeg(data, header, at_least), False
    if header.kind == "TIFF" and header.bits <= 8:
        return *_tiff_8(data), True
    stored = _opencv(data, cv2.IMREAD_UNCHANGED)
    if stored.dtype not in (np.uint8, np.uint16):
        raise UnreadableError("is in a form that is not read; save it anew as PNG or 16-bit TIFF")
    if header.white_is_zero:
        stored = np.iinfo(stored.dtype).max - stored
    alpha = None
    if stored.ndim == 2:
        colour = cv2.cvtColor(stored, cv2.COLOR_GRAY2RGB)
    elif stored.shape[2] == 4:
        colour, alpha = cv2.cvtColor(stored, cv2.COLOR_BGRA2RGB), stored[..., 3]
        if header.premultiplied:
            top = np.iinfo(stored.dtype).max
            whole = colour.astype(np.float32) * (top / np.maximum(alpha, 1)[..., np.newaxis])
            colour = np.minimum(np.round(whole), top).astype(stored.dtype)
    else:
        colour = cv2.cvtColor(stored, cv2.COLOR_BGR2RGB)
    return colour, alpha, header.kind == "TIFF"


def _jpeg(
    data: bytes, header: Header, at_least: float | None
) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.uint8] | None]:
    """A JPEG, at a half, quarter or eighth in the transform domain where that is enough; and its alpha."""
    divisor = 1
    for smaller in (2, 4, 8):
        if at_least and header.width * header.height >= at_least * smaller**2:
            divisor = smaller
    stored = _opencv(data, _AS_STORED | _REDUCED[divisor])
    high, wide = broken_scan.block_size(data)
    interval = broken_scan.restart_interval(data)
    off = np.zeros(0, np.intp)
    if broken_scan.may_jump(stored, high // divisor, wide // divisor, interval):
        full = _opencv(data, _AS_STORED) if divisor > 1 else stored
        if broken_scan.jumps(full, high, wide, interval):
            raise UnreadableError(DAMAGED)
        off = broken_scan.rows_off(full, high, wide, interval)
    if scan_range.may_be_beyond(stored, divisor):
        made = scan_range.with_smaller_steps(data)
        if made and scan_range.is_beyond(_opencv(made[0], _AS_STORED | _REDUCED[8]), made[1]):
            raise UnreadableError(DAMAGED)
    # libjpeg rounds the size up, padding the last block: drop a row or column that is mostly padding,
    # so that places keep to the photo within half a pixel of the array.
    height = max(1, round(header.height / divisor))
    width = max(1, round(header.width / divisor))
    colour = np.ascontiguousarray(stored[:height, :width])
    if not len(off):
        return colour, None
    shown = np.full((height, width), 255, np.uint8)
    for row in off.tolist():  # what is made larger of its chroma reaches two pixels further
        shown[max(0, (row * high - 2) // divisor) : -(-((row + 1) * high + 2) // divisor)] = 0
    return colour, shown


def _tiff_8(data: bytes) -> tuple[Stored, Stored | None]:
    """An 8-bit TIFF by Pillow, which keeps unassociated alpha and knows more compressions."""
    import io
    import warnings

    from PIL import TiffImagePlugin

    try:
        with warnings.catch_warnings(), _captured_stderr():
            warnings.simplefilter("ignore")  # odd tags that do not bear on the pixels
            # Not Image.open: its own limit on pixels differs from the one stated to the user.
            picture = TiffImagePlugin.TiffImageFile(io.BytesIO(data))
            compression, tags = picture.tag_v2.get(259, 1), picture.tag_v2
            starts, sizes = (tags.get(strips, tags.get(tiles, ())) for strips, tiles in _WHERE_PIXELS_LIE)
            picture.load()
            mode = "RGBA" if picture.mode in ("RGBA", "LA", "PA") else "RGB"
            stored = np.asarray(picture.convert(mode))
    except Exception as error:  # Pillow raises many kinds on damaged files
        raise UnreadableError(DAMAGED) from error
    if compression in _DEFLATE and not is_deflated_whole(data, starts, sizes):
        raise UnreadableError(DAMAGED)
    alpha = np.ascontiguousarray(stored[..., 3]) if mode == "RGBA" else None
    return np.ascontiguousarray(stored[..., :3]), alpha


class Heic:
    """A HEIC file: its header before anything is decoded, and its pixels.

    Raises
    ------
    UnreadableError
        If libheif cannot use the file.
    """

    def __init__(self, data: bytes) -> None:
        import io

        import pi_heif

        check_texts(data)
        try:
            with _captured_stderr():
                self._file = pi_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=False)
            info, (width, height) = self._file.info, self._file.size
        except Exception as error:  # ValueError, EOFError, SyntaxError, RuntimeError, OSError, IndexError
            raise UnreadableError(DAMAGED) from error
        if self._file.mode.startswith(("L", "I")):
            check_depth(data)
        self._bits = int(info["bit_depth"])
        exif = read_exif((info.get("exif") or b"").removeprefix(b"Exif\0\0"))
        nclx = info.get("nclx_profile")
        notes = []
        if any("gainmap" in name.lower() for name in info.get("aux", {})) or b"tmap" in data[:64]:
            notes.append(GAIN_MAP)
        if len(self._file) > 1:
            notes.append(f"the file holds {len(self._file)} pictures; the main one was read")
        self.header = Header(
            "HEIC",
            width,
            height,
            bits=self._bits,
            grey=self._file.mode.startswith("L"),
            orientation=exif.orientation,
            icc=info.get("icc_profile"),
            cicp=(int(nclx["color_primaries"]), int(nclx["transfer_characteristics"]), 0) if nclx else None,
            srgb=exif.srgb,
            adobe_rgb=exif.adobe_rgb,
            focal_35mm=exif.focal_35mm,
            notes=tuple(notes),
        )

    def decode(self) -> tuple[Stored, Stored | None, bool]:
        """As ``decode``; libheif has turned the picture upright."""
        try:
            with _captured_stderr():
                stored = np.asarray(self._file)
        except Exception as error:
            raise UnreadableError(DAMAGED) from error
        stored = stored[:, : self._file.size[0]]
        if stored.dtype == np.uint16:
            # libheif shifts 10 or 12 bits up to 16; stretch so that its top is the type's top.
            top = ((1 << self._bits) - 1) << (16 - self._bits)
            stored = np.round(stored * (65535 / top)).astype(np.uint16)
        if stored.ndim == 2 or stored.shape[2] == 1:
            return np.repeat(stored.reshape(*stored.shape[:2], 1), 3, axis=2), None, True
        alpha = np.ascontiguousarray(stored[..., 3]) if stored.shape[2] == 4 else None
        return np.ascontiguousarray(stored[..., :3]), alpha, True
