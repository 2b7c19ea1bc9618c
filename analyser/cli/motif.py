"""``analyser motif``: the motifs there are, one drawn, and a maker's own checked."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import Asked, asking, common, options, options_told
from analyser.cli.output import remark, show

if TYPE_CHECKING:
    from rich.console import Console


@dataclass(frozen=True, kw_only=True)
class MotifRequest(Asked):
    """What ``analyser motif`` was asked for."""

    motif: str = ""
    out_dir: Path | None = None


@click.group()
def motif() -> None:
    """The motifs: list them, draw one, check a file of your own."""


@motif.command("list")
@common
@asking(MotifRequest)
def list_motifs(asked: MotifRequest) -> None:
    """List the motifs that ship with the tool."""
    from analyser.motif import parsing
    from analyser.report import motifs

    answer = motifs.list_answer([parsing.load(name) for name in parsing.names()], options_told())

    def readable(console: Console) -> None:
        from analyser.cli.motif_readable import print_list

        print_list(console, answer)

    show(answer, asked.json_file, readable)


@motif.command("show")
@click.argument("motif")
@options("out")
@common
@asking(MotifRequest)
def show_motif(asked: MotifRequest) -> None:
    """Draw MOTIF, a shipped one or your own .toml file, rolled out; with --out as a picture too."""
    _show(asked)


@motif.command("check")
@click.argument("motif", metavar="FILE")
@common
@asking(MotifRequest)
def check_motif(asked: MotifRequest) -> None:
    """Check the motif file FILE; a fault is told with its line and the mend."""
    _show(asked)


def _show(asked: MotifRequest) -> None:
    from analyser.motif import parsing
    from analyser.report import motifs

    woven = parsing.load(asked.motif)
    answer = motifs.motif_answer(woven, options_told())
    if asked.out_dir is not None:
        from analyser.files import write_whole

        path = asked.out_dir / f"motif-{woven.name}.svg"
        write_whole(path, motifs.picture(woven), make_folders=True)
        answer["picture"] = str(path)
        remark(f"the motif drawn: {path}")

    def readable(console: Console) -> None:
        from analyser.cli.motif_readable import print_motif

        print_motif(console, woven, answer)

    show(answer, asked.json_file, readable)
