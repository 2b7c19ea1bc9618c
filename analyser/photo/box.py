"""A box in a photo, as the maker gives it: pixels, percent, or ``middle``.

Pixels are counted in the upright, full-size photo, x to the right, y down.
"""

from __future__ import annotations

from dataclasses import dataclass

from analyser.errors import OptionError


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle given by the maker, not yet bound to a photo's size.

    Attributes
    ----------
    x, y, width, height : float
        Pixels of the upright full-size photo, or percent of its sides where the flag below says so.
    percent : tuple of 4 bool
        Which of the four numbers are percent.
    """

    x: float
    y: float
    width: float
    height: float
    percent: tuple[bool, bool, bool, bool] = (False, False, False, False)

    @classmethod
    def parse(cls, text: str) -> Box:
        """Read ``x,y,width,height`` in pixels or percent, or ``middle`` (the middle half).

        Raises
        ------
        OptionError
            If the text is none of these, or the box has no area.

        Examples
        --------
        >>> Box.parse("10%,10%,50%,50%").in_pixels(200, 100)
        (20.0, 10.0, 100.0, 50.0)
        """
        if text.strip().lower() == "middle":
            return cls(25, 25, 50, 50, (True,) * 4)
        parts = [part.strip() for part in text.split(",")]
        says = f"a box is x,y,width,height in pixels or percent, or 'middle'; got {text!r}"
        if len(parts) != 4:
            raise OptionError(says)
        try:
            numbers = [float(part.removesuffix("%")) for part in parts]
        except ValueError as error:
            raise OptionError(says) from error
        if not all(abs(n) < 1e9 for n in numbers) or numbers[2] <= 0 or numbers[3] <= 0:
            raise OptionError(f"a box needs a width and a height above 0; got {text!r}")
        x, y, width, height = numbers
        a, b, c, d = (part.endswith("%") for part in parts)
        return cls(x, y, width, height, (a, b, c, d))

    def __str__(self) -> str:
        """The box as one types it."""
        sides = (self.x, self.y, self.width, self.height)
        return ",".join(f"{n:g}{'%' * of}" for n, of in zip(sides, self.percent, strict=True))

    def in_pixels(self, width: int, height: int) -> tuple[float, float, float, float]:
        """The box as x, y, width, height in pixels of a photo of that size, cut to its frame.

        Raises
        ------
        OptionError
            If no part of the box lies in the photo.
        """
        sides = (width, height, width, height)
        x, y, w, h = (
            value * side / 100 if percent else value
            for value, side, percent in zip(
                (self.x, self.y, self.width, self.height), sides, self.percent, strict=True
            )
        )
        left, top = max(x, 0.0), max(y, 0.0)
        right, bottom = min(x + w, float(width)), min(y + h, float(height))
        if right - left < 1 or bottom - top < 1:
            raise OptionError(
                f"the box {x:g},{y:g},{w:g},{h:g} lies outside the photo of {width} x {height} pixels"
            )
        return left, top, right - left, bottom - top
