"""``analyser kept``: the colourways kept beside the list."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import Asked, asking, common, options, options_told
from analyser.cli.output import show, show_done

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.piece.kept import KeptColourway


@dataclass(frozen=True, kw_only=True)
class KeptRequest(Asked):
    """What ``analyser kept`` was asked for."""

    stock_file: Path
    name: str = ""
    state: str = ""
    with_bead: str | None = None


@click.group()
def kept() -> None:
    """Your kept colourways, in a folder beside the list (`colourway ... --keep NAME` keeps one)."""


@kept.command("list")
@options("stock", "with_bead", stock={"required": True})
@common
@asking(KeptRequest)
def list_kept(asked: KeptRequest) -> None:
    """List what is kept, the newest first; --with BEAD shows where a bead was used."""
    from analyser.piece import kept as keeping
    from analyser.report import answers, kept_answers

    folder = keeping.folder_of(asked.stock_file)
    found, faulty = keeping.read_all(folder)
    fields = kept_answers.list_fields(folder, found, faulty, asked.with_bead)
    answer = {**answers.head(options_told()), **fields}

    def readable(console: Console) -> None:
        from analyser.cli.kept_readable import print_kept

        print_kept(console, answer)

    show(answer, asked.json_file, readable)


@kept.command("show")
@click.argument("name")
@options("stock", stock={"required": True})
@common
@asking(KeptRequest)
def show_kept(asked: KeptRequest) -> None:
    """Show the colourway NAME."""
    from analyser.piece import kept as keeping

    path = keeping.find(keeping.folder_of(asked.stock_file), asked.name)
    _show_one(asked, path, keeping.read(path))


@kept.command("mark")
@click.argument("name")
@click.argument("state", type=click.Choice(["idea", "woven", "sold"]))
@options("stock", stock={"required": True})
@common
@asking(KeptRequest)
def mark_kept(asked: KeptRequest) -> None:
    """Say what has become of the colourway NAME: idea, woven or sold."""
    from analyser.piece import kept as keeping

    path = keeping.find(keeping.folder_of(asked.stock_file), asked.name)
    _show_one(asked, path, keeping.mark(path, asked.state))


@kept.command("delete")
@click.argument("name")
@options("stock", stock={"required": True})
@common
@asking(KeptRequest)
def delete_kept(asked: KeptRequest) -> None:
    """Lay the colourway NAME in the bin beside the others."""
    from analyser.piece import kept as keeping
    from analyser.report import answers

    path = keeping.find(keeping.folder_of(asked.stock_file), asked.name)
    there = keeping.delete(path)
    answer = {**answers.head(options_told()), "name": asked.name, "moved_to": str(there)}
    says = f"{path} lies in the bin now, as {there}"
    show_done(answer, asked.json_file, lambda console: console.print(says, markup=False))


def _show_one(asked: KeptRequest, path: Path, found: KeptColourway) -> None:
    from analyser.report import answers, kept_answers

    answer = {**answers.head(options_told()), "colourway": kept_answers.kept_fields(path, found)}

    def readable(console: Console) -> None:
        from analyser.cli.kept_readable import print_one

        print_one(console, answer["colourway"])

    show_done(answer, asked.json_file, readable)
