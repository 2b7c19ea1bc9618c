"""The bead drawer."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.report import list_answers
from analyser.stock.list import opening
from analyser.web.common import done, download, state_of
from analyser.web.drawer import PAGE
from analyser.web.receiving import received
from analyser.web.wishes import Agreement, CellChange, TakenWishes
from analyser.web.workers import RefusedError

router = APIRouter(prefix="/api/stock", tags=["stock"])

Sought = Annotated[str, Query(max_length=200)]
_KINDS = {
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "ods": "application/vnd.oasis.opendocument.spreadsheet",
}


@router.get("")
def look_in(
    request: Request,
    search: Sought = "",
    size: Sought = "",
    finish: Sought = "",
    sort: Literal["list", "name", "light", "dark", "most", "least"] = "list",
    start: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
    at_least: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
) -> dict[str, Any]:
    """A page of the list."""
    drawer = state_of(request).drawer
    return drawer.page(search, size, finish, sort, start // PAGE * PAGE, at_least)


@router.get("/open")
def left_open(request: Request) -> dict[str, Any]:
    """How many questions the list leaves open."""
    drawer = state_of(request).drawer
    return {"questions": len(drawer.held()[1].questions) if drawer.path.exists() else 0}


@router.get("/beads")
def names(request: Request) -> dict[str, Any]:
    """Every bead that has a colour, once, to choose from."""
    drawer = state_of(request).drawer
    if not drawer.path.exists():
        return {"beads": []}
    held = drawer.held()[1]
    beads = {bead.id: bead for bead in held.coloured}
    return {"beads": [{"id": b.id, "name": b.name, "size": b.size} for b in beads.values()]}


@router.patch("/cell")
def set_cell(request: Request, change: CellChange) -> dict[str, Any]:
    """Change one cell, if it still holds what was seen."""
    drawer = state_of(request).drawer
    drawer.set_cell(change.row, change.column, change.was, change.value)
    return {"undo": drawer.undo_says}


@router.post("/agreed")
def agree(request: Request, said: Agreement) -> dict[str, Any]:
    """Answer what the list leaves open, or forget an answer."""
    drawer = state_of(request).drawer
    drawer.agree(said.kind, said.value)
    return {"agreed": list_answers.agreed_fields(drawer.held()[1].agreed)}


@router.post("/undo")
def undo(request: Request) -> dict[str, Any]:
    """Take the last change made here back."""
    drawer = state_of(request).drawer
    return {"undone": drawer.undo(), "undo": drawer.undo_says}


@router.post("/pieces")
async def book_out(request: Request, piece: TakenWishes) -> dict[str, Any]:
    """Book out what a piece takes, of each bead the lot that holds most; with the card to print."""
    state = state_of(request)
    arguments = {"wishes": piece.model_dump(), "stock_file": str(state.stock_file)}
    takes = await done(state.pool.submit("takes", arguments, urgent=True))
    lines = state.drawer.book_out(takes["lots"])
    return {"lines": lines, "card": takes["card"], "undo": state.drawer.undo_says}


@router.post(
    "/rows",
    openapi_extra={
        "requestBody": {
            "required": True,
            "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        }
    },
)
async def bring_in(request: Request) -> dict[str, Any]:
    """Bring another list in (the body is the file): its beads that are not in this one are added."""
    state = state_of(request)
    path = await received(request, state.photos, photo=False)
    try:
        read = await done(state.pool.submit("check_list", {"path": str(path)}, worker=1))
    except RefusedError as error:
        raise RefusedError(error.kind, state.photos.plain(path, str(error))) from error
    finally:
        state.photos.drop(path)
    return {**state.drawer.bring_in(read["beads"]), "says": read["says"], "undo": state.drawer.undo_says}


@router.get("/file", response_class=Response)
def take_out(request: Request) -> Response:
    """The list itself, as it lies on disk."""
    drawer = state_of(request).drawer
    kind = drawer.held()[0].kind
    return download(opening.contents(drawer.path), _KINDS[kind], drawer.path.name)
