"""``analyser stock set``: one cell of the list."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import click

from analyser.cli.options import Asked, asking, common, options_told
from analyser.cli.output import remark, show_done
from analyser.cli.values import FILE
from analyser.errors import OptionError


@dataclass(frozen=True, kw_only=True)
class SetRequest(Asked):
    """What ``analyser stock set`` was asked for."""

    file: Path
    bead: str
    column: str
    value: str


@click.command()
@click.argument("file", type=FILE)
@click.argument("bead")
@click.argument("column")
@click.argument("value")
@common
@asking(SetRequest)
def set(asked: SetRequest) -> None:  # noqa: A001 -- the verb's own name
    """Write VALUE into the COLUMN of a BEAD of the stock list FILE; what would be a fault is not written.

    A bead of several lots is named as ID@LOT. An empty VALUE ('') empties the cell.
    `analyser stock undo FILE` takes it back.
    """
    from analyser.report import answers
    from analyser.stock.list import cells, stock_list

    lots = stock_list.read(asked.file, skip_faulty=True).lots(asked.bead)
    if len(lots) > 1:
        names = ", ".join(f"{lot.id}@{lot.lot or f'row {lot.row}'}" for lot in lots)
        raise OptionError(f"{asked.file}: {asked.bead} has {len(lots)} lots; say which: {names}")
    done = cells.set_cell(asked.file, lots[0], asked.column, asked.value)
    answer = {
        **answers.head(options_told()),
        "file": str(done.path),
        "backup": str(done.backup) if done.backup else None,
        "id": lots[0].id,
        "lot": lots[0].lot or None,
        "row": lots[0].row,
        "column": done.column,
        "before": done.before,
        "after": done.after,
    }
    lot = f", lot {lots[0].lot}" if lots[0].lot else ""
    says = f"{lots[0].id}{lot}: {done.column} {done.before or 'empty'} → {done.after or 'empty'}"
    show_done(answer, asked.json_file, lambda console: console.print(says, markup=False))
    remark(f"the list as it was in {done.backup}; analyser stock undo takes it back")
