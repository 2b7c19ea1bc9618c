"""Directories of TIFF files and EXIF blocks, and what of EXIF bears on the picture.

Sources
-------
[1] TIFF 6.0 (1992), section 2, and BigTIFF: directories.
[2] CIPA DC-008 (Exif 2.32): Orientation, ColorSpace, FocalLengthIn35mmFilm, InteroperabilityIndex.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass, field

# An ICC profile is some kilobytes, a table-based one up to some megabytes; more is a bomb.
LARGEST_PROFILE = 32 << 20

Values = dict[int, bytes | tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class Exif:
    """What of EXIF bears on the picture; the focal length as on 35 mm film, None where it is not told."""

    orientation: int = 1
    srgb: bool = False
    adobe_rgb: bool = False
    focal_35mm: float | None = None


@dataclass(slots=True)
class Directories:
    """Reads the directories of a TIFF or EXIF block [1]."""

    data: bytes
    order: str = field(init=False)
    big: bool = field(init=False)
    first: int = field(init=False)

    def __post_init__(self) -> None:
        self.order = {b"II": "<", b"MM": ">"}.get(self.data[:2], "")
        if not self.order:
            raise ValueError("is damaged")
        self.big = self._number("H", 2) == 43
        self.first = self._number("Q", 8) if self.big else self._number("I", 4)

    def _number(self, code: str, at: int) -> int:
        if at > len(self.data):  # an offset of 64 bits may be more than Python can look up
            raise ValueError("is damaged")
        return int(struct.unpack_from(self.order + code, self.data, at)[0])

    def directory(self, at: int) -> tuple[Values, int]:
        """Whole-number and text values by tag of the directory at an offset, and the next offset."""
        count = self._number("Q" if self.big else "H", at)
        at += 8 if self.big else 2
        entry, inline = (20, 8) if self.big else (12, 4)
        values: Values = {}
        if at + count * entry > len(self.data):
            raise ValueError("is damaged")
        for start in range(at, at + count * entry, entry):
            tag, kind = self._number("H", start), self._number("H", start + 2)
            length = self._number("Q" if self.big else "I", start + 4)
            code = {1: "B", 2: "s", 3: "H", 4: "I", 7: "s", 13: "I", 16: "Q"}.get(kind)
            # Lists of strip offsets and the like are the decoder's business, not ours.
            if code is None or length == 0 or (code != "s" and length > 16):
                continue
            size = struct.calcsize(code) * length
            value = start + entry - inline
            if size > inline:
                value = self._number("Q" if self.big else "I", value)
            if value + size > len(self.data) or size > LARGEST_PROFILE:
                continue
            if code == "s":
                values[tag] = self.data[value : value + size]
            else:
                values[tag] = struct.unpack_from(f"{self.order}{length}{code}", self.data, value)
        end = at + count * entry
        try:
            return values, self._number("Q" if self.big else "I", end)
        except struct.error:
            return values, 0

    def first_value(self, values: Values, tag: int, default: int) -> int:
        """The first number of a tag, or the default."""
        value = values.get(tag)
        return value[0] if isinstance(value, tuple) else default


def read_exif(block: bytes) -> Exif:
    """Orientation and colour space from an EXIF block; a damaged block counts as none.

    Parameters
    ----------
    block : bytes
        From its TIFF byte-order mark on.
    """
    orientation, space, focal, index = 1, 0, 0, b""
    try:
        directories = Directories(block)
        main, _ = directories.directory(directories.first)
        orientation = directories.first_value(main, 0x0112, 1)
        at = directories.first_value(main, 0x8769, 0)
        if at:
            details, _ = directories.directory(at)
            space = directories.first_value(details, 0xA001, 0)
            focal = directories.first_value(details, 0xA405, 0)  # 0: not known [2]
            at = directories.first_value(details, 0xA005, 0)
            if at:
                text = directories.directory(at)[0].get(0x0001, b"")
                index = text if isinstance(text, bytes) else b""
    except (struct.error, ValueError, IndexError):
        pass  # what was found before the damage still counts
    return Exif(
        orientation=orientation if 1 <= orientation <= 8 else 1,
        srgb=space == 1,
        # Exif 2.32, 4.6.5: uncalibrated, and by DCF the index "R03" for the optional space [2].
        adobe_rgb=space == 0xFFFF and index[:3] == b"R03",
        focal_35mm=float(focal) if focal > 0 else None,
    )
