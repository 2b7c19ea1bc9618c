"""The audit's answer as a maker reads it in the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from analyser.cli.readable import block
from analyser.phrases import audits as phrases
from analyser.phrases.figures import difference, percent

if TYPE_CHECKING:
    from rich.console import Console


def print_audit(console: Console, answer: Mapping[str, Any]) -> None:
    """Each piece: verdict, findings, colours; then the pieces against each other."""
    shared = {piece["photo"]["file"] for piece in answer["pieces"] if piece["number"] > 1}
    if answer["says"]:
        console.print(Text(f"{answer['says'][0].upper()}{answer['says'][1:]}.", style="bold"))
        for place, piece in enumerate(answer["pieces"], start=1):
            rope = f", rope {piece['number']}" if piece["photo"]["file"] in shared else ""
            said = phrases.verdict(
                piece["verdict"],
                {finding["kind"] for finding in piece["findings"]},
                asked="looks_planned" in piece,
            )
            console.print(Text(f"  {place}  {said}: {piece['photo']['file']}{rope}"))
    for place, piece in enumerate(answer["pieces"]):
        if place or answer["says"]:
            console.print()
        _print_piece(console, piece, several=piece["photo"]["file"] in shared)
    for one in answer["faulty"]:
        console.print(Text(f"\n{one['file']}: not judged: {one['says']}"))
    if answer["between"]:
        console.print(Text("\nBetween the pieces", style="bold"))
        for one in answer["between"]:
            pair = f"  {one['a'] + 1} and {one['b'] + 1}: "
            swatches = [block(console, side["hex"]) for side in one["sides"]]
            console.print(Text.assemble(pair, *swatches, f" {one['says']}"))
    if answer.get("report"):
        console.print(Text(f"\nPage with pictures: {answer['report']}"))


def _print_piece(console: Console, piece: Mapping[str, Any], several: bool) -> None:
    rope = f", rope {piece['number']}" if several else ""
    console.print(Text(f"{piece['photo']['file']}{rope}", style="bold"))
    kinds = {finding["kind"] for finding in piece["findings"]}
    console.print(
        Text(f"{phrases.verdict(piece['verdict'], kinds, asked='looks_planned' in piece)}.", style="bold")
    )
    for number, finding in enumerate(piece["findings"], start=1):
        console.print(Text(f"  {number}. {finding['says']} ({phrases.sure(finding['confidence'])})"))
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("", "role", "code", "share", "beads told apart", "sure to"):
        table.add_column(title)
    for role in piece["roles"]:
        table.add_row(
            block(console, role["hex"]),
            Text(role["role"]),
            role["hex"] + ("" if role["in_srgb"] else " *"),
            percent(role["share"]),
            str(role["beads"]),
            f"±{difference(role['uncertainty_de00'])}",
        )
    console.print(table)
    if "length_mm" in piece:
        console.print(Text(piece["size_says"]))
    console.print(Text(piece["calibration"]["says"]))
    if piece["new_lot"]:
        console.print(Text(piece["new_lot"]["says"]))
    for one in piece["stock"]:
        console.print(Text(one["says"]))
    for note in (*piece["photo"]["notes"], *piece["calibration"]["notes"], *piece["notes"]):
        console.print(Text(f"Note: {note}"))
