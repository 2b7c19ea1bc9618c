"""Motifs as a maker reads them in the terminal: a list, and one drawn in letters."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.table import Table
from rich.text import Text

from analyser.motif.geometry import letter_of

if TYPE_CHECKING:
    from rich.console import Console

    from analyser.motif.motif import Motif

_LENGTHS = 26  # columns of the drawing, along the rope
_STYLES = {"accent": "bold reverse", "body": "", "third": "underline"}


def print_list(console: Console, answer: Mapping[str, Any]) -> None:
    """One line a motif: what to type, what it is, its colours."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for heading in ("--motif", "", "colours", "columns"):
        table.add_column(heading)
    for one in answer["motifs"]:
        table.add_row(
            Text(one["name"]), Text(f"{one['title']}: {one['says']}"), Text(", ".join(one["roles"])),
            Text(str(one["columns"])),
        )  # fmt: skip
    console.print(table)
    console.print(
        Text("One drawn: analyser motif show NAME. Your own: copy a file, then analyser motif check FILE")
    )


def print_motif(console: Console, motif: Motif, answer: Mapping[str, Any]) -> None:
    """The motif rolled out in letters, the start at the left, and its figures."""
    console.print(Text(f"{motif.title}: {motif.says}", "bold"))
    for line in drawn(motif):
        text = Text("  ")
        for sign in line:
            role = next((role for role in motif.roles if letter_of(role) == sign), "")
            text.append(sign, _STYLES.get(role, ""))
        console.print(text)
    shares = ", ".join(f"{letter_of(role)} {role} {share:.0%}" for role, share in answer["shares"].items())
    console.print(
        Text(f"{shares} of the beads; {motif.columns} columns, back after {motif.repeat_rounds} rounds")
    )


def drawn(motif: Motif) -> list[str]:
    """The pattern rolled out, the rope to the right: a letter where the middle of a bead is seen."""
    tile = motif.flat()
    rows = max(2, round(tile.width_mm / float(np.median(tile.bead_w_mm))))
    step = float(np.median(tile.bead_h_mm)) / 2
    repeats = int(np.ceil(_LENGTHS * step / tile.height_mm))
    cells = np.full((2 * rows, max(1, round(tile.height_mm / step))), " ", dtype="U1")
    for k in range(len(tile.role)):
        row = int(tile.x_mm[k] / tile.width_mm * len(cells)) % len(cells)
        column = int(tile.y_mm[k] / tile.height_mm * cells.shape[1]) % cells.shape[1]
        cells[row, column] = letter_of(str(tile.role[k]))
    kept = cells[(cells != " ").any(axis=1)]
    return ["".join(np.tile(row, repeats))[: _LENGTHS * 2] for row in kept]
