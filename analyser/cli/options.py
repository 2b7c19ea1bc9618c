"""Options and kinds of values that several verbs share."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import click

from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.photo.box import Box
    from analyser.photo.calibration import Card

F = TypeVar("F", bound=Callable[..., Any])


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


BOX = _Parsed("x,y,width,height|middle", _box)
CARD = _Parsed("BOX[:white|grey|REFLECTANCE]", _card)
SHARE = _Parsed("share", _share)
FILE = click.Path(path_type=Path)

METHODS = ("auto", "chart", "card", "paper", "none")


def print_version(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
    """Print the versions and leave, where ``--version`` asks for it."""
    if not value or ctx.resilient_parsing:
        return
    from analyser.cli.versions import versions

    click.echo(versions())
    ctx.exit()


class BeadKind(NamedTuple):
    """Size, shape and finish as asked for, by the words the stock uses."""

    size: str | None
    shape: str | None
    finish: str | None


def bead_kind(size: str | None, shape: str | None, finish: str | None) -> BeadKind:
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
    return BeadKind(units.size(size) if size else None, shape, finish)


def common(function: F) -> F:
    """``--json``, ``--quiet``, ``--verbose`` and ``--version``, which every verb takes."""

    def writable(_ctx: click.Context, _param: click.Parameter, value: Path | None) -> Path | None:
        # Before anything is booked or added: a verb whose answer cannot be written must do nothing.
        if value is not None and value != Path("-"):
            folder = value.parent
            # A folder or a device: a file must never be put in its place.
            special = value.exists() and not value.is_file()
            if special or not value.name or not folder.is_dir() or not os.access(folder, os.W_OK):
                raise OptionError(f"{value}: cannot be written; name a file in a folder that is there")
        return value

    def note(level: str) -> Callable[[click.Context, click.Parameter, bool], None]:
        def callback(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
            if value:
                ctx.ensure_object(dict)[level] = True

        return callback

    for option in (
        click.option(
            "--verbose",
            is_flag=True,
            expose_value=False,
            callback=note("verbose"),
            help="More remarks; the full story when the tool itself fails.",
        ),
        click.option(
            "--quiet",
            is_flag=True,
            expose_value=False,
            callback=note("quiet"),
            help="No progress, no remarks.",
        ),
        click.option(
            "--json",
            "json_file",
            callback=writable,
            type=FILE,
            metavar="FILE",
            help="Write the answer as JSON; - is standard output.",
        ),
        click.option(
            "--version", is_flag=True, is_eager=True, expose_value=False, hidden=True, callback=print_version
        ),
    ):
        function = option(function)
    return function


def reading_photo(function: F) -> F:
    """What every verb that reads a photo takes: how to calibrate it, and how large it may be."""
    for option in (
        click.option(
            "--limit-mp",
            type=click.FloatRange(min=0.01),
            default=200.0,
            show_default=True,
            help="Refuse photos of more megapixels than this.",
        ),
        click.option(
            "--corrected",
            type=FILE,
            metavar="FILE",
            help="Also save the calibrated photo, tagged sRGB, for the shop's page.",
        ),
        click.option(
            "--card", type=CARD, help="Where a grey or white card lies: BOX, BOX:white, BOX:grey or BOX:0.75."
        ),
        click.option(
            "--calibration",
            type=click.Choice(METHODS),
            default="auto",
            show_default=True,
            help="What the photo's colours are corrected by.",
        ),
    ):
        function = option(function)
    return function


def framing(function: F) -> F:
    """What limits a photo to its subject: ``--focus`` and ``--mask``."""
    for option in (
        click.option(
            "--mask",
            "mask_file",
            type=FILE,
            metavar="FILE",
            help="A picture of the photo's shape, white where the subject is.",
        ),
        click.option("--focus", type=BOX, help="A box round the subject; the wall behind it goes."),
    ):
        function = option(function)
    return function


def stock_option(*, required: bool = True) -> Callable[[F], F]:
    """``--stock FILE`` and ``--skip-faulty``."""

    def add(function: F) -> F:
        function = click.option(
            "--skip-faulty", is_flag=True, help="Use a list with faults, without its faulty rows."
        )(function)
        return click.option(
            "--stock",
            "stock_file",
            type=FILE,
            required=required,
            metavar="FILE",
            help="Your stock list (CSV or XLSX).",
        )(function)

    return add


def filtering(function: F) -> F:
    """What narrows the stock: ``--size``, ``--shape``, ``--finish``, ``--at-least``."""
    for option in (
        click.option("--at-least", type=click.IntRange(min=1), help="Only lots sure to hold so many beads."),
        click.option("--finish", help="Only beads of this finish, such as matte."),
        click.option("--shape", help="Only beads of this shape: round, cylinder, large …"),
        click.option("--size", help="Only beads of this size: 11/0, 11 or 4mm."),
    ):
        function = option(function)
    return function


def motif_options(function: F) -> F:
    """``--motif`` and ``--size``: what is woven, and in which beads."""
    for option in (
        click.option("--size", default="11/0", show_default=True, help="Bead size: 11/0, 11 or 4mm."),
        click.option("--motif", default="chenille", show_default=True, help="A motif's name, or its file."),
    ):
        function = option(function)
    return function
