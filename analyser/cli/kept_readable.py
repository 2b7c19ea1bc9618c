"""Kept colourways as a maker reads them in the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from analyser.cli.readable import block
from analyser.motif.plan import role_of_key
from analyser.phrases.figures import percent
from analyser.phrases.pairs import title

if TYPE_CHECKING:
    from rich.console import Console


def print_kept(console: Console, answer: Mapping[str, Any]) -> None:
    """A line each: name, state, beads, length, day."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("name", "state", "", "accent on body", "length", "made on"):
        table.add_column(heading)
    for one in answer["colourways"]:
        beads = [bead for role, bead in one["beads"].items() if role != "end" and ":" not in role]
        colours = Text(" ").join(block(console, bead["hex"]) for bead in beads)
        names = title([bead["name"] for bead in beads])
        table.add_row(Text(one["name"]), one["state"], colours, Text(names), _length(one), one["made_on"])
    if answer["colourways"]:
        console.print(table)
    else:
        console.print(Text(f"Nothing is kept in {answer['folder']} with that."))
    for says in answer["faulty"]:
        console.print(Text(f"Left out: {says}"))


def print_one(console: Console, one: Mapping[str, Any]) -> None:
    """All of one."""
    console.print(Text(one["name"], style="bold"))
    console.print(Text(f"{one['state']}, {one['made_on']}: {one['motif']}, {one['size']} {one['shape']}"))
    for role, bead in one["beads"].items():
        lot = f", lot {bead['lot']}" if bead["lot"] else ""
        needs = f", {bead['needs']} beads" if bead["needs"] else ""
        line = Text(f"{role_of_key(role):>7} ").append_text(block(console, bead["hex"]))
        console.print(line.append(f" {bead['name']} ({bead['id']}){lot}{needs}"))
    if one["plan"]:
        console.print(Text("along a plan, which its file holds; `kept again` counts it bead by bead"))
    if one["length_mm"] is not None:
        console.print(Text(f"{_length(one)} long" + (f", {one['gauge']}" if one["gauge"] else "")))
    for colour in one["colours"]:
        line = block(console, colour["hex"]).append(f" {percent(colour['share'])} {colour['name']}")
        console.print(line)
    console.print(Text(f"from {one['photo']['name']}; in {one['file']}"))
    if one["note"]:
        console.print(Text(one["note"]))


def _length(one: Mapping[str, Any]) -> str:
    return "" if one["length_mm"] is None else f"{one['length_mm'] / 10:g} cm"
