"""``analyser stock check``: every fault of a list at once, and how the list is read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import Asked, asking, common, options
from analyser.cli.output import show
from analyser.cli.values import FILE
from analyser.errors import OptionError

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, kw_only=True)
class CheckRequest(Asked):
    """What ``analyser stock check`` was asked for."""

    file: Path
    takes: tuple[str, ...]


@click.command()
@click.argument("file", type=FILE)
@options("take")
@common
@asking(CheckRequest)
def check(asked: CheckRequest) -> int:
    """Read the stock list FILE and say what is wrong, by kind and by row, with the mend.

    --take says how cells that can be read several ways are read from now on. Exits 2 if there are any faults.
    """
    from analyser.cli.lists import read_list
    from analyser.report import list_answers
    from analyser.stock.list import agreed, opening

    if asked.takes:
        opening.contents(asked.file)  # nothing is kept of a list that is not there
    for text in asked.takes:
        agreed.keep(asked.file, *_taken(text))
    held = read_list(asked.file)
    faults = held.faults
    answer = list_answers.stock_check_answer(held, faults)

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_faults

        print_faults(console, answer)

    show(answer, asked.json_file, readable)
    return 2 if faults else 0


def _taken(text: str) -> tuple[str, str | bool | None]:
    """Kind and value of a ``--take``."""
    kind, sign, value = (part.strip() for part in text.rpartition("="))
    if not sign:
        raise OptionError(
            f"--take {text!r}: expected KIND=VALUE, such as unit=grams or 'finish:sparkly=lustre'"
        )
    if kind == "fills" and value in ("true", "false", "yes", "no"):
        return kind, value in ("true", "yes")
    return kind, value or None
