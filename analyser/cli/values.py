"""Kinds of values that options take, read from text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.photo.box import Box
    from analyser.photo.calibration import Card


class _Parsed(click.ParamType[Any]):
    """A value that a function reads from the text; its ``OptionError`` becomes the usage line."""

    def __init__(self, name: str, parse: Callable[[str], Any]) -> None:
        self.name = name
        self._parse = parse

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):
            return value
        try:
            return self._parse(value)
        except OptionError as error:
            self.fail(str(error), param, ctx)


def _box(text: str) -> Box:
    from analyser.photo.box import Box

    return Box.parse(text)


def _card(text: str) -> Card:
    from analyser.photo.calibration import Card

    return Card.parse(text)


def _share(text: str) -> float:
    try:
        share = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
    except ValueError as error:
        raise OptionError(f"a share such as 10% or 0.1, got {text!r}") from error
    if not 0 <= share <= 2:
        raise OptionError(f"a share from 0 to 200 %, got {text!r}")
    return share


def _spot(text: str) -> tuple[float, float]:
    parts = text.split(",")
    try:
        x, y = (float(part) for part in parts)
    except ValueError as error:
        raise OptionError(f"a spot is x,y in pixels of the upright photo; got {text!r}") from error
    return x, y


SPOT = _Parsed("x,y", _spot)
BOX = _Parsed("x,y,width,height|middle", _box)
CARD = _Parsed("BOX[:white|grey|REFLECTANCE]", _card)
SHARE = _Parsed("share", _share)
FILE = click.Path(path_type=Path)

METHODS = ("auto", "chart", "sheet", "card", "paper", "none")


class BeadFilter(NamedTuple):
    """Size, shape and finish as asked for, by the words the stock uses."""

    size: str | None
    shape: str | None
    finish: str | None


def bead_filter(size: str | None, shape: str | None, finish: str | None) -> BeadFilter:
    """Check what was given for ``--size``, ``--shape`` and ``--finish``.

    Raises
    ------
    OptionError
        If a word is not known.
    """
    from analyser.stock import units
    from analyser.stock.bead import FINISHES, SHAPES

    for name, word, known in (("shape", shape, SHAPES), ("finish", finish, FINISHES)):
        if word is not None and word not in known:
            raise OptionError(f"--{name} is one of {', '.join(known)}; got {word!r}")
    return BeadFilter(units.size(size) if size else None, shape, finish)
