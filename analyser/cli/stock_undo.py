"""``analyser stock undo``: the list as it was before its last change."""

from __future__ import annotations

from pathlib import Path

import click

from analyser.cli.options import common
from analyser.cli.output import show_done
from analyser.cli.values import FILE


@click.command()
@click.argument("file", type=FILE)
@common
def undo(file: Path, json_file: Path | None) -> None:
    """Put the newest backup of the stock list FILE back; a second undo takes the first one back."""
    from analyser.report import answers
    from analyser.stock.list import writing

    real = writing.restore(file)
    answer = {**answers.head({}), "file": str(real)}
    says = (
        f"{real} and its newest backup have changed places: the last change is taken back; the same again "
        "brings it back. A piece card that was written stays where it is."
    )
    show_done(answer, json_file, lambda console: console.print(says, markup=False))
