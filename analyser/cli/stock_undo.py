"""``analyser stock undo``: the list as it was before its last changes."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from analyser.cli.options import Asked, asking, common, options, options_told
from analyser.cli.output import show_done
from analyser.cli.values import FILE


@dataclass(frozen=True, kw_only=True)
class UndoRequest(Asked):
    """What ``analyser stock undo`` was asked for."""

    file: Path
    steps: int


@click.command()
@click.argument("file", type=FILE)
@options("undo_steps")
@common
@asking(UndoRequest)
def undo(asked: UndoRequest) -> None:
    """Take the last change of the stock list FILE back, or several; a second undo takes the first back."""
    from analyser.report import answers
    from analyser.stock.list import writing

    real = writing.restore(asked.file, asked.steps)
    answer = {**answers.head(options_told()), "file": str(real)}
    if asked.steps == 1:
        says = (
            f"{real} and its newest backup have changed places: the last change is taken back; the same "
            "again brings it back."
        )
    else:
        says = f"{real} is as it was {asked.steps} changes ago; analyser stock undo brings them back."
    says += " A piece card that was written stays where it is."
    show_done(answer, asked.json_file, lambda console: console.print(says, markup=False))
