"""Files made for the tests: ICC profiles of any form, written from the standard's layout."""

from __future__ import annotations

import struct

import pytest

PCS_WHITE = (0.9642, 1.0, 0.8249)


def fixed(*values: float) -> bytes:
    """s15Fixed16Number, ICC.1:2022 4.6."""
    return struct.pack(f">{len(values)}i", *(round(v * 65536) for v in values))


def xyz(values: tuple[float, ...]) -> bytes:
    return b"XYZ \0\0\0\0" + fixed(*values)


def para(kind: int, *values: float) -> bytes:
    return b"para\0\0\0\0" + struct.pack(">HH", kind, 0) + fixed(*values)


def curv(*values: int) -> bytes:
    return b"curv\0\0\0\0" + struct.pack(f">I{len(values)}H", len(values), *values)


def write_icc(
    tags: dict[bytes, bytes],
    *,
    name: str = "Test space",
    version: int = 4,
    space: bytes = b"RGB ",
    pcs: bytes = b"XYZ ",
) -> bytes:
    """A profile of given tags; name, white point and copyright are added."""
    if version == 2:
        text = name.encode("ascii") + b"\0"
        described = b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78)
        right = b"text\0\0\0\0none\0"
    else:
        text = name.encode("utf-16-be")
        described = b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(text), 28) + text
        right = described
    tags = {b"desc": described, b"cprt": right, b"wtpt": xyz(PCS_WHITE), **tags}
    at = 132 + 12 * len(tags)
    index, body = b"", b""
    for key, tag in tags.items():
        index += struct.pack(">4sII", key, at + len(body), len(tag))
        body += tag + bytes(-len(tag) % 4)
    head = struct.pack(">I4xI4s4s4s", at + len(body), version << 24, b"mntr", space, pcs)
    head += struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp" + bytes(28) + fixed(*PCS_WHITE)
    return head.ljust(128, b"\0") + struct.pack(">I", len(tags)) + index + body


# Colorants adapted to D50 by Bradford, five decimals: sRGB and Display P3 as in their published
# profiles; Adobe RGB (1998) 2005-05, 4.3.4; ROMM (ProPhoto) RGB, ISO 22028-2, is D50 itself.
COLORANTS = {
    "sRGB": ((0.43607, 0.22249, 0.01392), (0.38515, 0.71687, 0.09708), (0.14307, 0.06061, 0.71410)),
    "Display P3": ((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407)),
    "Adobe RGB": ((0.60974, 0.31111, 0.01947), (0.20528, 0.62567, 0.06087), (0.14919, 0.06322, 0.74457)),
    "ProPhoto": ((0.79767, 0.28804, 0.00000), (0.13519, 0.71188, 0.00000), (0.03135, 0.00009, 0.82491)),
}


def matrix_icc(space: str, *curves: bytes, version: int = 4, name: str | None = None) -> bytes:
    """A matrix profile of a named space with one curve, or three."""
    three = curves if len(curves) == 3 else curves * 3
    tags = {}
    for channel, column, curve in zip((b"r", b"g", b"b"), COLORANTS[space], three, strict=True):
        tags[channel + b"XYZ"] = xyz(column)
        tags[channel + b"TRC"] = curve
    return write_icc(tags, name=name or space, version=version)


class Icc:
    """What the tests need to make profiles."""

    write = staticmethod(write_icc)
    matrix = staticmethod(matrix_icc)
    para = staticmethod(para)
    curv = staticmethod(curv)
    srgb_curve = para(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)


@pytest.fixture(scope="session")
def icc() -> type[Icc]:
    return Icc
