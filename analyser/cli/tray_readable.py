"""The readable answer of ``analyser stock add``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from analyser.cli.readable import block, print_notes
from analyser.phrases.figures import difference

if TYPE_CHECKING:
    from rich.console import Console


def print_tray(console: Console, answer: Mapping[str, Any]) -> None:
    """The piles by number, how far their colours can be trusted, and what was written where."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title, right in (
        ("pile", True),
        ("", False),
        ("colour", False),
        ("code", False),
        ("looks", False),
        ("spread", True),
        ("sure to", True),
        ("at", False),
    ):
        table.add_column(title, justify="right" if right else "left")
    for pile in answer["piles"]:
        table.add_row(
            str(pile["number"]),
            block(console, pile["hex"]),
            Text(pile["name"]),
            pile["hex"] + ("" if pile["in_srgb"] else " *"),
            pile["finish"],
            difference(pile["spread_de00"]),
            f"±{difference(pile['uncertainty_de00'])}",
            f"{pile['centre'][0]:.0f}, {pile['centre'][1]:.0f}",
        )
    console.print(table)
    if not all(pile["in_srgb"] for pile in answer["piles"]):
        console.print("* more vivid than a usual screen shows; the code is the nearest it can")
    console.print(Text(answer["calibration"]["says"]))
    print_notes(console, answer)
    if answer["picture"]:
        console.print(Text(f"Numbered picture: {answer['picture']}"))
    written = answer["stock"]
    if written is None:
        return
    said = [f"{len(written[kind])} {kind}" for kind in ("added", "filled", "replaced") if written[kind]] or [
        "nothing"
    ]
    backup = f"; as it was: {written['backup']}" if written["backup"] else ""
    console.print(Text(f"{written['file']}: {' and '.join(said)}{backup}"))
    if written["columns"]:
        console.print(Text(f"- columns added: {', '.join(written['columns'])}"))
    if written["left_out"]:
        console.print(Text(f"- the list has no column for: {', '.join(written['left_out'])}"))
