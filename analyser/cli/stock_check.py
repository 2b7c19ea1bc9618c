"""``analyser stock check``: every fault of a list at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import common
from analyser.cli.output import show
from analyser.cli.values import FILE

if TYPE_CHECKING:
    from rich.console import Console


@click.command()
@click.argument("file", type=FILE)
@common
def check(file: Path, json_file: Path | None) -> int:
    """Read the stock list FILE and say what is wrong, by row and column, with the mend.

    Exits 2 if there are any faults.
    """
    from analyser.report import answers
    from analyser.stock.list import stock_list

    faults = stock_list.check(file)
    held = stock_list.read(file, skip_faulty=True)
    answer = answers.stock_check_answer(held, faults)

    def readable(console: Console) -> None:
        from analyser.cli.readable import print_faults

        print_faults(console, answer, held.notes)

    show(answer, json_file, readable)
    return 2 if faults else 0
