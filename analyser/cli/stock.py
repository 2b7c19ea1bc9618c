"""``analyser stock``: the maker's own list, checked, added to from a photo, and booked out of."""

from __future__ import annotations

import importlib

import click

#: part of the verb -> one line for --help; each lives in a module of its own.
PARTS = {
    "check": "Read the list and say what is wrong, by kind and by row, and how it is read.",
    "add": "Piles of beads in a tray photo become colours and rows of the list.",
    "merge": "Add the beads of another list that are not in this one.",
    "set": "Change one cell: a bead, a column, what is to stand there.",
    "use": "Book out what a piece took, and write its piece card.",
    "undo": "Take the last changes to the list back.",
}


class _Parts(click.Group):
    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(PARTS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in PARTS:
            return None
        module = importlib.import_module(f"analyser.cli.stock_{cmd_name}")
        command: click.Command = getattr(module, cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(PARTS.items()))


@click.group(cls=_Parts)
def stock() -> None:
    """Your stock list: check it, add beads from a photo, book beads out."""
