"""``analyser stock merge``: the beads of another list join this one."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import Asked, asking, common, options_told
from analyser.cli.output import remark_left_out, show_done
from analyser.cli.values import FILE

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, kw_only=True)
class MergeRequest(Asked):
    """What ``analyser stock merge`` was asked for."""

    file: Path
    other: Path


@click.command()
@click.argument("file", type=FILE)
@click.argument("other", type=FILE)
@common
@asking(MergeRequest)
def merge(asked: MergeRequest) -> None:
    """Add the beads of the list OTHER that are not in FILE; those that are there without a colour get theirs.

    A bead is the same where id, size, shape and lot are. What FILE holds stays as it is; OTHER is only read.
    """
    from analyser.cli.lists import read_list
    from analyser.report import answers
    from analyser.stock.list import adding

    other = read_list(asked.other)
    if asked.file.exists():
        read_list(asked.file)
    merged = adding.merge(asked.file, other.beads)
    done = merged.written
    answer = {
        **answers.head(options_told()),
        "file": str(asked.file if done is None else done.path),
        "backup": None if done is None or done.backup is None else str(done.backup),
        "added": [] if done is None else list(done.added),
        "filled": [] if done is None else list(done.filled),
        "known": list(merged.known),
        "left_out": [] if done is None else list(done.left_out),
        "columns": [] if done is None else list(done.columns),
    }

    def readable(console: Console) -> None:
        said = [f"{len(answer['added'])} added"]
        said += [f"{len(answer['filled'])} given a colour"] if answer["filled"] else []
        said += [f"{len(answer['known'])} there already, left as they are"] if answer["known"] else []
        console.print(f"{answer['file']}: {', '.join(said)}", markup=False)
        if answer["left_out"]:
            console.print(f"- the list has no column for: {', '.join(answer['left_out'])}", markup=False)

    show_done(answer, asked.json_file, readable)
    remark_left_out(other)
