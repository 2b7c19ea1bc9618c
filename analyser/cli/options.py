"""How a verb takes its options.

A verb names the options it has with ``options``, takes them as one request object with ``asking``, and says
in its answer what held with ``options_told``.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click
from click.core import ParameterSource

from analyser.cli.output import print_version
from analyser.cli.register import REGISTER
from analyser.cli.values import FILE
from analyser.errors import OptionError
from analyser.files import can_be_written

if TYPE_CHECKING:
    from analyser.photo.calibration import Card

F = TypeVar("F", bound=Callable[..., Any])
Request = TypeVar("Request")
Ending = TypeVar("Ending")


def common(function: F) -> F:
    """``--json``, ``--quiet``, ``--verbose`` and ``--version``, which every verb takes."""

    def writable(_ctx: click.Context, _param: click.Parameter, value: Path | None) -> Path | None:
        # Before anything is booked or added: a verb whose answer cannot be written must do nothing.
        if value is not None and value != Path("-") and not can_be_written(value):
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
            help="Write the answer as JSON, numbers in ten significant digits; - is standard output.",
        ),
        click.option(
            "--version", is_flag=True, is_eager=True, expose_value=False, hidden=True, callback=print_version
        ),
    ):
        function = option(function)
    return function


#: Options that say how a verb speaks, not what it does.
_SPEECH = ("json_file", "quiet", "verbose", "version", "help")


def options(*names: str, **changed: Mapping[str, Any]) -> Callable[[F], F]:
    """Give a verb these options, in this order.

    Parameters
    ----------
    *names : str
        Names in the register.
    **changed : mapping
        Settings that this verb has otherwise, by the option's name: ``size={"default": "11/0"}``.
    """

    def add(function: F) -> F:
        for name in reversed(names):
            function = REGISTER[name](**changed.get(name, {}))(function)
        return function

    return add


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a verb was asked for: its parameters, as parsed; each verb's own request derives from it."""

    json_file: Path | None


@dataclass(frozen=True, kw_only=True)
class AskedOfPhoto(Asked):
    """A request that says how a photo is read (``PHOTO`` of the register)."""

    calibration: str
    card: Card | None
    no_card: bool
    even_light: bool
    corrected: Path | None
    limit_mp: float


def asking(kind: type[Request]) -> Callable[[Callable[[Request], Ending]], Callable[..., Ending]]:
    """Hand a verb its parameters as one request object of this kind, a frozen dataclass of their names."""

    def wrap(function: Callable[[Request], Ending]) -> Callable[..., Ending]:
        @functools.wraps(function)
        def run(**parameters: Any) -> Ending:
            return function(kind(**parameters))

        return run

    return wrap


def options_told() -> dict[str, Any]:
    """The options that held for the running verb, by the names one types, as JSON has them."""
    context = click.get_current_context()
    return {
        param.opts[-1].lstrip("-").replace("-", "_"): _plain(context.params[param.name])
        for param in context.command.params
        if isinstance(param, click.Option) and param.name in context.params and param.name not in _SPEECH
    }


def given() -> set[str]:
    """Names of the running verb's parameters that were typed, not taken from settings or defaults."""
    context = click.get_current_context()
    return {
        name for name in context.params if context.get_parameter_source(name) is ParameterSource.COMMANDLINE
    }


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value if value is None or isinstance(value, (bool, int, float, str)) else str(value)
