"""How a verb speaks: answers to standard output or a JSON file, remarks and progress to standard error."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyser.errors import OptionError
from analyser.files import write_whole

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.stock.stock import Stock

STDOUT = Path("-")


def one_line(text: str) -> str:
    """The text as one line: line breaks and control characters become spaces."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def wants_json_on_stdout(arguments: list[str]) -> bool:
    """Whether ``--json -`` was given, even where the arguments could not be parsed."""
    pairs = zip(arguments, [*arguments[1:], ""], strict=True)
    return any(a == "--json=-" or (a == "--json" and b == "-") for a, b in pairs)


def print_version(ctx: click.Context, _param: click.Parameter, value: bool) -> None:
    """Print the versions and leave, where ``--version`` asks for it."""
    if not value or ctx.resilient_parsing:
        return
    from analyser.cli.versions import versions

    click.echo(versions())
    ctx.exit()


def print_json(answer: Mapping[str, Any]) -> None:
    """Write the object to standard output, and nothing else."""
    from analyser.report.json_text import json_text

    click.echo(json_text(answer))


def show(answer: Mapping[str, Any], json_file: Path | None, readable: Callable[[Console], None]) -> None:
    """Give the verb's answer: as JSON where ``--json`` asks for it, readable otherwise.

    Raises
    ------
    OptionError
        If the JSON file, or standard output, cannot be written.
    """
    if json_file == STDOUT:
        with _printing():
            print_json(answer)
        return
    if json_file is not None:
        from analyser.report.json_text import json_text

        write_whole(json_file, json_text(answer) + "\n")
        remark(f"wrote {json_file}")
        return
    with _printing():
        readable(console())


@contextmanager
def _printing() -> Iterator[None]:
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        forget_output()
        raise OptionError(
            f"standard output cannot be written ({error.strerror or error}); send the answer elsewhere"
        ) from error


def show_done(answer: Mapping[str, Any], json_file: Path | None, readable: Callable[[Console], None]) -> None:
    """Give the answer of a verb that has changed something already: it cannot fail any more.

    An ending that reads as a failure would have it done a second time.
    """
    try:
        show(answer, json_file, readable)
    except OptionError as error:
        remark(f"it is done, but not told: {error}")
    except BrokenPipeError:
        forget_output()


def forget_output() -> None:
    """Let what standard output still holds go nowhere, so that Python does not try it again at exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def console(*, stderr: bool = False) -> Console:
    """A console for readable text; colours only where the terminal has them and NO_COLOR is unset."""
    from rich.console import Console

    stream = sys.stderr if stderr else sys.stdout
    width = None if stream.isatty() else 100
    return Console(stderr=stderr, width=width, highlight=False, soft_wrap=not stream.isatty())


def talks(level: str) -> bool:
    """Whether ``quiet`` or ``verbose`` was asked for, before or behind the verb."""
    context = click.get_current_context(silent=True)
    return bool(context and (context.find_object(dict) or {}).get(level))


def remark(text: str) -> None:
    """Say something beside the answer, on standard error, unless ``--quiet``."""
    if not talks("quiet"):
        with contextlib.suppress(OSError):  # where nobody can read it, nothing is lost
            click.echo(one_line(text), err=True)


def remark_left_out(stock: Stock | None) -> None:
    """Say how many rows of a list are used and left out, and what was assumed of it."""
    from analyser.phrases import stock_lists as phrases

    if stock is None:
        return
    for note in phrases.told(stock):
        remark(note)


@contextmanager
def working(doing: str) -> Iterator[None]:
    """Show that something is going on while it takes long: on a terminal only, unless ``--quiet``."""
    if talks("quiet") or not sys.stderr.isatty():
        yield
        return
    with console(stderr=True).status(f"{doing} …"):
        yield
