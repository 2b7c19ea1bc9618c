"""The answer of ``analyser sheet`` as a maker reads it in the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.text import Text

from analyser.cli.readable import block

if TYPE_CHECKING:
    from rich.console import Console


def print_sheet(console: Console, answer: Mapping[str, Any]) -> None:
    """Where the sheet is and what to do with it, or what was learnt."""
    written, learnt = answer["written"], answer["learnt"]
    if written:
        console.print(Text(f"The sheet: {written['file']}", style="bold"))
        console.print("Print it at actual size (100 %) on plain white paper; its scale is then 15 cm long.")
        console.print("If it is not, add what it measures to the line below, such as: --scale-is 14.6cm")
        console.print(
            "Once, lay a white card on its frame, photograph it and run: analyser sheet --learn PHOTO"
        )
        return
    gap = " " if console.color_system else ""
    console.print(Text.assemble(block(console, learnt["hex"], 3), gap, f"Paper {learnt['name']} is learnt: ",
                                f"{learnt['hex']} beside a white card of 0.90"))  # fmt: skip
    console.print(f"Kept in {learnt['file']}; photos on a sheet of this paper need no card from now on.")
