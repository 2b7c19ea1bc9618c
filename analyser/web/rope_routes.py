"""Finished ropes, compared with each other."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.report.json_text import json_text
from analyser.web import tables
from analyser.web.common import done, download, state_of
from analyser.web.photo_routes import finished
from analyser.web.photo_store import PhotoEntry, PhotoStore

router = APIRouter(prefix="/api/ropes", tags=["ropes"])

Photos = Annotated[list[str], Query(min_length=1, max_length=6)]


def _entries(store: PhotoStore, photos: list[str]) -> list[PhotoEntry]:
    return [finished(store, photo, "rope") for photo in photos]


@router.get("/compared")
async def compared(request: Request, photo: Photos) -> dict[str, Any]:
    """Several audited ropes, each against each."""
    state = state_of(request)
    entries = _entries(state.photos, photo)
    arguments = {"paths": [str(entry.path) for entry in entries], "wishes": state.photos.asked(entries[0])}
    answer: dict[str, Any] = (await done(state.pool.submit("compare", arguments, worker=1)))["shown"]
    return answer


Place = Annotated[float, Query(ge=0, le=1e6)]


@router.get("/{photo}/new-lot")
async def new_lot(
    request: Request, photo: str, x: Place, y: Place, old_x: Place | None = None, old_y: Place | None = None
) -> dict[str, Any]:
    """Whether the beads of a heap that was touched may go on; with a second heap, against that."""
    state = state_of(request)
    entry = finished(state.photos, photo, "rope")
    old = None if old_x is None or old_y is None else (old_x, old_y)
    arguments = {"path": str(entry.path), "wishes": state.photos.asked(entry), "heap": (x, y), "old": old}
    answer: dict[str, Any] = await done(state.pool.submit("new_lot", arguments, worker=1, urgent=True))
    return answer


@router.get("/compared.{kind}", response_class=Response)
async def take_away(request: Request, kind: Literal["html", "json", "csv"], photo: Photos) -> Response:
    """The comparison to keep."""
    state = state_of(request)
    entries = _entries(state.photos, photo)
    arguments = {"paths": [str(entry.path) for entry in entries], "wishes": state.photos.asked(entries[0])}
    if kind == "html":
        return download(
            await done(state.pool.submit("audit_report", arguments, worker=1)), "text/html", "audit.html"
        )
    answer = (await done(state.pool.submit("compare", arguments, worker=1)))["answer"]
    if kind == "json":
        return download(json_text(answer), "application/json", "audit.json")
    return download(tables.audit_csv(answer), "text/csv", "audit.csv")
