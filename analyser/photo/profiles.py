"""Colour spaces of photo files, as curves and a matrix into linear sRGB.

Everything stays in floating point and unclipped: a colour beyond sRGB comes out below 0 or above 1.
Matrix-and-curve ICC profiles, versions 2 and 4, are read here; table-based ones go through
LittleCMS (Pillow) in eight bits. ICC conversion is relative colorimetric: the file's white becomes
(1, 1, 1).

Sources
-------
[1] ICC.1:2022: 10.6 curveType, 10.18 parametricCurveType, 7.2 header, annex E (adaptation).
[2] IEC 61966-2-1:1999 (sRGB).
[3] ITU-T H.273 (2021), tables 2 and 3: code points of primaries and transfer characteristics.
[4] Adobe RGB (1998) Color Image Encoding, 2005-05, 4.3.
[5] Lam (1985), Bradford transform, as given in [1] annex E.
"""

from __future__ import annotations

import struct
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray

Curve = Callable[[FloatArray], FloatArray]

D65 = (0.3127, 0.3290)
# The profile connection space's white, ICC.1:2022 7.2.16.
_PCS_WHITE = np.array([0.9642, 1.0, 0.8249])
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

_SRGB = ((0.640, 0.330), (0.300, 0.600), (0.150, 0.060))
_REC2020 = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
_P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
_ADOBE = ((0.640, 0.330), (0.210, 0.710), (0.150, 0.060))
_ILLUMINANT_C = (0.310, 0.316)
# H.273 table 2.
_PRIMARIES = {
    1: ("sRGB", _SRGB, D65),
    4: ("System M", ((0.67, 0.33), (0.21, 0.71), (0.14, 0.08)), _ILLUMINANT_C),
    5: ("System B, G", ((0.64, 0.33), (0.29, 0.60), (0.15, 0.06)), D65),
    6: ("SMPTE 170M", ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070)), D65),
    7: ("SMPTE 240M", ((0.630, 0.340), (0.310, 0.595), (0.155, 0.070)), D65),
    9: ("Rec. 2020", _REC2020, D65),
    11: ("DCI P3", _P3, (0.314, 0.351)),
    12: ("Display P3", _P3, D65),
}

# What is no damage, with room (from memory, no source): powers of 0.15 to 5.6, black lifted by a tenth, half
# the light at the top, a white that is a tenth off; the widest space in use has entries of up to 2.6.
_BLACK, _MIDDLE, _TOP = (-0.02, 0.1), (0.02, 0.9), (0.5, 1.1)
_FALLS, _WHITE_OFF, _LARGEST = 0.02, 0.1, 5.0


class HighDynamicRangeError(ValueError):
    """The file's curve is an HDR one, whose numbers are not a share of the paper's white."""


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """How stored numbers become linear sRGB.

    Attributes
    ----------
    name : str
        For the user.
    curves : tuple of 3 callables
        Stored value in [0, 1] to linear device light, for each channel.
    matrix : float64 ndarray, shape (3, 3)
        Linear device light (column) to linear sRGB.
    table : bytes or None
        The ICC profile itself where it works by tables; curves and matrix then belong to the
        space that it is taken to first.
    """

    name: str
    curves: tuple[Curve, Curve, Curve]
    matrix: FloatArray
    table: bytes | None = None

    def to_linear(self, stored: npt.NDArray[np.uint8] | npt.NDArray[np.uint16]) -> npt.NDArray[np.float32]:
        """Stored pixels to linear sRGB, unclipped.

        Parameters
        ----------
        stored : uint8 or uint16 ndarray, shape (h, w, 3)
            Full range of its type, R, G, B.

        Returns
        -------
        float32 ndarray, shape (h, w, 3)
        """
        if self.table is not None:
            stored = _through_table(stored, self.table)
        top = int(np.iinfo(stored.dtype).max)
        codes = np.arange(top + 1) / top
        tables = np.stack([curve(codes) for curve in self.curves], axis=-1).astype(np.float32)
        if stored.dtype == np.uint8:
            linear = cv2.LUT(stored, tables[np.newaxis])
        else:
            linear = np.stack([np.take(tables[:, i], stored[..., i]) for i in range(3)], axis=-1)
        if np.allclose(self.matrix, np.eye(3), rtol=0, atol=1e-6):
            return np.asarray(linear, np.float32)
        return np.asarray(cv2.transform(linear, self.matrix.astype(np.float32)), np.float32)


# --- curves -------------------------------------------------------------------------------------


def srgb_curve(code: FloatArray) -> FloatArray:
    """The curve of sRGB [2], also that of Display P3."""
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def rec709_curve(code: FloatArray) -> FloatArray:
    """The inverse of the camera curve of BT.709, 601 and 2020 (H.273 transfers 1, 6, 14, 15)."""
    alpha, beta = 1.09929682680944, 0.018053968510807
    return np.where(code < 4.5 * beta, code / 4.5, ((code + alpha - 1) / alpha) ** (1 / 0.45))


def power(exponent: float) -> Curve:
    """A pure power."""
    return lambda code: code**exponent


def _table_curve(samples: FloatArray) -> Curve:
    places = np.linspace(0, 1, len(samples))
    return lambda code: np.interp(code, places, samples)


def _parametric(kind: int, values: tuple[float, ...]) -> Curve:
    """ICC.1:2022 table 68: g a b c d e f, with the shorter forms filled up to the longest."""
    g, a, b, c, d, e, f = (*values, *([0.0] * (7 - len(values))))
    if g <= 0:
        raise ValueError("a curve without a positive power")
    if kind == 0:
        return power(g)
    if kind in (1, 2):
        if a == 0:
            raise ValueError("a curve without a slope")
        # Below -b/a the curve is the constant c (0 in form 1).
        d, e, c, f = -b / a, c, 0.0, c

    def curve(code: FloatArray) -> FloatArray:
        return np.where(code >= d, np.maximum(a * code + b, 0) ** g + e, c * code + f)

    return curve


# --- matrices -----------------------------------------------------------------------------------


def _xyz(xy: tuple[float, float]) -> FloatArray:
    x, y = xy
    return np.array([x / y, 1.0, (1 - x - y) / y])


def _primaries_to_xyz(primaries: tuple[tuple[float, float], ...], white: tuple[float, float]) -> FloatArray:
    columns = np.stack([_xyz(xy) for xy in primaries], axis=1)
    return np.asarray(columns * np.linalg.solve(columns, _xyz(white)), np.float64)


def _adaptation(source: FloatArray, target: FloatArray) -> FloatArray:
    scale = (_BRADFORD @ target) / (_BRADFORD @ source)
    return np.asarray(np.linalg.solve(_BRADFORD, scale[:, np.newaxis] * _BRADFORD), np.float64)


def _xyz_to_srgb(white: FloatArray) -> FloatArray:
    """XYZ under a white to linear sRGB, Bradford-adapted."""
    return np.asarray(np.linalg.inv(_primaries_to_xyz(_SRGB, D65)) @ _adaptation(white, _xyz(D65)))


def from_primaries(
    name: str,
    primaries: tuple[tuple[float, float], ...],
    white: tuple[float, float],
    curve: Curve,
) -> Profile:
    """A space by its chromaticities and curve.

    Raises
    ------
    ValueError
        If the chromaticities span no triangle.
    """
    if any(y <= 0 for _, y in (*primaries, white)):
        raise ValueError("chromaticities that are no colours")
    try:
        to_xyz = _primaries_to_xyz(primaries, white)
    except np.linalg.LinAlgError as error:
        raise ValueError("chromaticities that span no triangle") from error
    matrix = _xyz_to_srgb(_xyz(white)) @ to_xyz
    if not (np.abs(matrix) <= _LARGEST).all():
        raise ValueError("chromaticities that span no triangle")
    return Profile(name, (curve,) * 3, matrix)


def srgb(name: str = "sRGB") -> Profile:
    """sRGB, or what is taken for it."""
    return Profile(name, (srgb_curve,) * 3, np.eye(3))


def adobe_rgb() -> Profile:
    """Adobe RGB (1998) [4]: D65, a power of 2 51/256."""
    return from_primaries("Adobe RGB (1998)", _ADOBE, D65, power(563 / 256))


def from_cicp(primaries: int, transfer: int) -> Profile:
    """A space by the code points of H.273, as PNG's cICP and HEIC's nclx carry them.

    Raises
    ------
    HighDynamicRangeError
        For PQ and HLG.
    ValueError
        For code points that are not known here.
    """
    if transfer in (16, 18):
        raise HighDynamicRangeError({16: "PQ", 18: "HLG"}[transfer])
    curves: dict[int, tuple[str, Curve]] = {
        **dict.fromkeys((1, 6, 14, 15), ("BT.709 curve", rec709_curve)),
        4: ("gamma 2.2", power(2.2)),
        5: ("gamma 2.8", power(2.8)),
        8: ("linear", power(1.0)),
        13: ("", srgb_curve),
    }
    primaries, transfer = (1 if primaries == 2 else primaries), (13 if transfer == 2 else transfer)
    if primaries not in _PRIMARIES or transfer not in curves:
        raise ValueError(f"code points {primaries}/{transfer}")
    name, chromaticities, white = _PRIMARIES[primaries]
    curve_name, curve = curves[transfer]
    label = f"{name}, {curve_name}" if curve_name else name
    if primaries == 1:
        return Profile(label, (curve,) * 3, np.eye(3))
    return from_primaries(label, chromaticities, white, curve)


def from_chromaticities(chrm: tuple[float, ...] | None, gamma: float | None) -> Profile:
    """A space by PNG's cHRM and gAMA; sRGB's own value stands in for the one that is missing.

    Raises
    ------
    ValueError
        If the numbers describe no space.
    """
    if gamma is not None and not 0.1 <= gamma <= 10:
        raise ValueError(f"a gamma of {gamma:g}")
    curve = srgb_curve if gamma is None else power(1 / gamma)
    name = "sRGB curve" if gamma is None else f"gamma {1 / gamma:.3g}"
    if chrm is None:
        return Profile(f"{name}, sRGB primaries assumed", (curve,) * 3, np.eye(3))
    pairs = tuple(zip(chrm[::2], chrm[1::2], strict=True))
    return from_primaries(f"{name}, primaries as in the file", pairs[1:], pairs[0], curve)


# --- ICC ----------------------------------------------------------------------------------------


def from_icc(icc: bytes, channels: int = 3) -> Profile:
    """Read an ICC profile [1].

    Parameters
    ----------
    icc : bytes
        The whole profile.
    channels : int
        1 or 3: of the picture it belongs to.

    Raises
    ------
    HighDynamicRangeError
        If it says its curve is PQ or HLG.
    ValueError
        If it is damaged or for another kind of picture.
    """
    try:
        return _from_icc(icc, channels)
    except (struct.error, IndexError, np.linalg.LinAlgError) as error:
        raise ValueError("damaged") from error


def _from_icc(icc: bytes, channels: int) -> Profile:
    if len(icc) < 132 or icc[36:40] != b"acsp":
        raise ValueError("damaged")
    tags: dict[bytes, bytes] = {}
    for i in range(min(struct.unpack_from(">I", icc, 128)[0], 200)):
        name, at, size = struct.unpack_from(">4sII", icc, 132 + 12 * i)
        tags[name] = icc[at : at + size]
    name = _description(tags.get(b"desc", b"")) or "ICC profile without a name"
    if b"cicp" in tags and tags[b"cicp"][9] in (16, 18):
        raise HighDynamicRangeError({16: "PQ", 18: "HLG"}[tags[b"cicp"][9]])
    space = icc[16:20]
    if space == b"GRAY":
        if channels != 1:
            raise ValueError("made for grey pictures, the picture is in colour")
        if b"kTRC" not in tags:
            raise ValueError("without a grey curve")
        return _believed(Profile(name, (_icc_curve(tags[b"kTRC"]),) * 3, np.eye(3)))
    if space != b"RGB ":
        raise ValueError(f"made for {space.decode('latin-1').strip()} pictures")
    if b"A2B0" in tags or b"A2B1" in tags:
        _through_table(np.zeros((1, 1, 3), np.uint8), icc)  # damage shows now, not at the pixels
        wide = from_primaries(name, _REC2020, D65, power(2.2))
        return Profile(name, wide.curves, wide.matrix, icc)
    if icc[20:24] != b"XYZ ":
        raise ValueError("without a matrix")
    try:
        columns = [_icc_xyz(tags[key]) for key in (b"rXYZ", b"gXYZ", b"bXYZ")]
        red, green, blue = (_icc_curve(tags[key]) for key in (b"rTRC", b"gTRC", b"bTRC"))
    except KeyError as error:
        raise ValueError("incomplete") from error
    return _believed(Profile(name, (red, green, blue), _xyz_to_srgb(_PCS_WHITE) @ np.stack(columns, axis=1)))


def _believed(profile: Profile) -> Profile:
    """A profile read from a file, unless its curves or its white can only be damage.

    Curves rise from nought to one [1, 10.18], and the colorants add up to the connection space's white
    [1, 9.2.33 and annex F.3]: of damaged profiles that said nothing else, the linear light reached 3e10.
    """
    codes = np.linspace(0, 1, 65)
    for curve in profile.curves:
        with np.errstate(all="ignore"):
            light = curve(codes)
        ends = zip((light[0], light[32], light[-1]), (_BLACK, _MIDDLE, _TOP), strict=True)
        if not all(low <= one <= high for one, (low, high) in ends) or not (np.diff(light) >= -_FALLS).all():
            raise ValueError("damaged in its curves")
    white = profile.matrix.sum(axis=1)
    if not (np.abs(profile.matrix) <= _LARGEST).all() or not (np.abs(white - 1) <= _WHITE_OFF).all():
        raise ValueError("damaged in its colours")
    return profile


def _icc_xyz(tag: bytes) -> FloatArray:
    return np.array(struct.unpack_from(">3i", tag, 8)) / 65536


def _icc_curve(tag: bytes) -> Curve:
    if tag[:4] == b"para":
        kind = struct.unpack_from(">H", tag, 8)[0]
        if kind > 4:
            raise ValueError("a curve of unknown form")
        count = (1, 3, 4, 5, 7)[kind]
        return _parametric(kind, tuple(v / 65536 for v in struct.unpack_from(f">{count}i", tag, 12)))
    if tag[:4] != b"curv":
        raise ValueError("a curve of unknown form")
    count = struct.unpack_from(">I", tag, 8)[0]
    if count == 0:
        return power(1.0)
    if count == 1:
        return _parametric(0, (struct.unpack_from(">H", tag, 12)[0] / 256,))  # u8Fixed8Number
    if 12 + 2 * count > len(tag):
        raise ValueError("damaged")
    return _table_curve(np.frombuffer(tag, ">u2", count, 12) / 65535)


def _description(tag: bytes) -> str:
    """The profile's own name, from either version's text."""
    if tag[:4] == b"mluc" and len(tag) >= 28:
        size, at = struct.unpack_from(">II", tag, 20)
        text = tag[at : at + size].decode("utf-16-be", "replace")
    elif tag[:4] == b"desc" and len(tag) >= 12:
        size = struct.unpack_from(">I", tag, 8)[0]
        text = tag[12 : 12 + size].decode("latin-1")
    else:
        return ""
    return "".join(c for c in text if c.isprintable()).strip()[:80]


def _through_table(
    stored: npt.NDArray[np.uint8] | npt.NDArray[np.uint16], icc: bytes
) -> npt.NDArray[np.uint8]:
    """A table-based profile's pixels in Rec. 2020 primaries with a power of 2.2, eight bits."""
    import io

    from PIL import Image, ImageCms

    eight = stored if stored.dtype == np.uint8 else np.round(stored / 257).astype(np.uint8)
    wide = matrix_icc("wide", _REC2020, D65, 2.2)
    try:
        changed = ImageCms.profileToProfile(
            Image.fromarray(np.ascontiguousarray(eight)),
            ImageCms.ImageCmsProfile(io.BytesIO(icc)),
            ImageCms.ImageCmsProfile(io.BytesIO(wide)),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            flags=ImageCms.Flags.HIGHRESPRECALC,
        )
    except (ImageCms.PyCMSError, OSError) as error:
        raise ValueError("damaged tables") from error
    return np.asarray(changed, np.uint8)


def matrix_icc(
    name: str, primaries: tuple[tuple[float, float], ...], white: tuple[float, float], gamma: float
) -> bytes:
    """A small version 2 ICC profile of a space with one power curve."""
    to_pcs = _adaptation(_xyz(white), _PCS_WHITE) @ _primaries_to_xyz(primaries, white)
    text = name.encode("ascii") + b"\0"
    parts: dict[bytes, bytes] = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78),
        b"cprt": b"text\0\0\0\0no copyright\0",
        b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in _PCS_WHITE)),
    }
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256))
    for i, channel in enumerate((b"r", b"g", b"b")):
        column = (round(float(v) * 65536) for v in to_pcs[:, i])
        parts[channel + b"XYZ"] = b"XYZ \0\0\0\0" + struct.pack(">3i", *column)
        parts[channel + b"TRC"] = curve
    at = 132 + 12 * len(parts)
    index, body = b"", b""
    for key, part in parts.items():
        index += struct.pack(">4sII", key, at + len(body), len(part))
        body += part + bytes(-len(part) % 4)
    white_fixed = struct.pack(">3i", *(round(v * 65536) for v in _PCS_WHITE))
    head = struct.pack(">I4xI4s4s4s", at + len(body), 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    head += bytes(12) + b"acsp" + bytes(28) + white_fixed
    return head.ljust(128, b"\0") + struct.pack(">I", len(parts)) + index + body
