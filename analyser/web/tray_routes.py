"""Heaps of a tray photo become beads of the list: which they may be, and their writing."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request

from analyser.errors import OptionError
from analyser.phrases import stock_lists as phrases
from analyser.report import pair_answers
from analyser.stock.bead import Bead
from analyser.stock.list import adding
from analyser.stock.list.adding import Fill
from analyser.tray import filling
from analyser.web import shown
from analyser.web.common import done, state_of
from analyser.web.photo_routes import finished
from analyser.web.photo_store import WORKERS
from analyser.web.wishes import NamedPiles

router = APIRouter(prefix="/api/photos", tags=["photos"])


@router.get("/{photo}/picks")
def picks(request: Request, photo: str) -> dict[str, Any]:
    """The beads of the list, and for each heap their rows in the order in which it may be them."""
    state = state_of(request)
    entry = finished(state.photos, photo, "tray")
    begun = state.stock_file.exists()
    beads = state.drawer.held()[1].beads if begun else ()
    columns = adding.columns_to_add(state.stock_file) if begun else []
    return {
        "beads": [_pick(bead) for bead in beads],
        "piles": [
            {
                "number": pile["number"],
                "rows": [bead.row for bead in filling.candidates(tuple(pile["lab"]), beads)],
            }
            for pile in (entry.result or {})["answer"]["piles"]
        ],
        "says": phrases.columns_added(columns) if columns else "",
    }


def _pick(bead: Bead) -> dict[str, Any]:
    empty = filling.without_colour(bead)
    fields = {"row": bead.row, "empty": empty, **pair_answers.bead_fields(bead)}
    if bead.lab is not None:
        fields["css"] = shown.css_of(bead.lab)
    return fields


@router.post("/{photo}/piles")
async def add_piles(request: Request, photo: str, named: NamedPiles) -> dict[str, Any]:
    """Write heaps in the stock list: as new rows under their names, or as colours of rows that are there."""
    state = state_of(request)
    entry = finished(state.photos, photo, "tray")
    measured = {pile["number"]: pile for pile in (entry.result or {})["answer"]["piles"]}
    fills: list[Fill] = []
    for pile in named.piles:
        if pile.row is None:
            continue
        if pile.number not in measured:
            raise OptionError(f"there is no pile {pile.number}; the photo shows {len(measured)}")
        row = state.drawer.row(pile.row, pile.id)
        if any(fill.row.row == row.row for fill in fills):
            raise OptionError(f"two piles are to be {row.name!r}; one tube has one colour")
        heap = measured[pile.number]
        fills.append(Fill(row, tuple(heap["lab"]), heap["uncertainty_de00"], pile.replace))
    new = [pile.model_dump() for pile in named.piles if pile.row is None]
    beads: list[Bead] = []
    if new:
        arguments = {"path": str(entry.path), "wishes": entry.wishes, "size": named.size, "piles": new}
        beads = await done(state.pool.submit("named_piles", arguments, worker=WORKERS["tray"]))
    written = state.drawer.add(beads, fills, further=named.further)
    return {
        "added": list(written.added),
        "filled": list(written.filled),
        "replaced": list(written.replaced),
        "columns": list(written.columns),
        "undo": state.drawer.undo_says,
    }
