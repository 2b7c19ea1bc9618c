"""``analyser kept``: the colourways kept beside the list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analyser.cli.options import Asked, asking, common, options, options_told
from analyser.cli.output import remark, show, show_done

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.piece.kept import KeptColourway


@dataclass(frozen=True, kw_only=True)
class KeptRequest(Asked):
    """What ``analyser kept`` was asked for."""

    stock_file: Path
    name: str = ""
    names: tuple[str, ...] = ()
    state: str = ""
    with_bead: str | None = None
    out_file: Path | None = None
    length: str | None = None
    wrist: str | None = None
    neck: str | None = None
    spare: float | None = None
    keep_as: str | None = None


_PAGE: Mapping[str, Any] = {
    "metavar": "FILE.html",
    "show_default": False,
    "help": "Write one page with pictures, to print or to send.",
}


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
@click.argument("names", nargs=-1, required=True, metavar="NAME...")
@options("stock", "sheet_file", stock={"required": True}, sheet_file=_PAGE)
@common
@asking(KeptRequest)
def show_kept(asked: KeptRequest) -> None:
    """Show the colourway NAME, or several side by side; with --out as one page to print or to send."""
    from analyser.piece import kept as keeping
    from analyser.report import answers, kept_answers

    folder = keeping.folder_of(asked.stock_file)
    found = {path: keeping.read(path) for path in (keeping.find(folder, name) for name in asked.names)}
    shown = [kept_answers.kept_fields(path, one) for path, one in found.items()]
    answer = {**answers.head(options_told()), "colourway": shown[0], "colourways": shown, "page": None}
    if asked.out_file is not None:
        from analyser.files import write_whole
        from analyser.report.kept_sheet import kept_page, shown_of

        write_whole(asked.out_file, kept_page([shown_of(path, one) for path, one in found.items()]))
        answer["page"] = str(asked.out_file)

    def readable(console: Console) -> None:
        from analyser.cli.kept_readable import print_one

        for one in shown:
            print_one(console, one)
        if asked.out_file is not None:
            console.print(f"The page lies in {asked.out_file}", markup=False)

    show(answer, asked.json_file, readable)


@kept.command("again")
@click.argument("name")
@options("stock", "length", "wrist", "neck", "spare", "keep", stock={"required": True})
@common
@asking(KeptRequest)
def again(asked: KeptRequest) -> None:
    """Count the colourway NAME again in another length, from the list as it is now; --keep keeps that too."""
    from analyser.phrases import reckoning
    from analyser.piece import kept as keeping
    from analyser.piece import kept_pieces, kits
    from analyser.report import counts
    from analyser.stock.list import stock_list

    folder = keeping.folder_of(asked.stock_file)
    path = keeping.find(folder, asked.name)
    one = keeping.read(path)
    length = _length(asked)
    made = kept_pieces.counted(
        one,
        stock_list.read(asked.stock_file),
        length_mm=length.get("length_mm"),
        body_mm=length.get("body_mm"),
        spare=asked.spare,
    )
    plan, notes = kits.plan([made]), reckoning.how(made.count)
    answer = {**counts.count_answer([made], plan, options_told(), notes), "kept": None}
    if asked.keep_as is not None:
        fresh = kept_pieces.in_length(one, made, asked.keep_as)
        answer["kept"] = str(keeping.keep(folder, fresh, keeping.picture_of(path)))

    def readable(console: Console) -> None:
        from analyser.cli.count_readable import print_count

        print_count(console, [made], plan, notes)

    show(answer, asked.json_file, readable)
    if answer["kept"]:
        remark(f"kept as {answer['kept']}")


def _length(asked: KeptRequest) -> dict[str, float]:
    """Which length was given, as an argument of ``kept_pieces.counted``; none means that it was kept in."""
    from analyser.errors import OptionError
    from analyser.stock.units import length_mm

    given = {name: text for name in ("length", "wrist", "neck") if (text := getattr(asked, name))}
    if len(given) > 1:
        raise OptionError(f"give one of --length, --wrist, --neck; got --{' and --'.join(given)}")
    return {"length_mm" if name == "length" else "body_mm": length_mm(text) for name, text in given.items()}


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
