"""Finished ropes, compared with each other."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.errors import OptionError
from analyser.piece.gauge import Gauge, keep
from analyser.piece.request import gauge_keys
from analyser.report.json_text import json_text
from analyser.stock import units
from analyser.stock.list import agreed
from analyser.web import tables
from analyser.web.common import done, download, state_of
from analyser.web.job_cache import known_motif
from analyser.web.photo_routes import finished
from analyser.web.wishes import KeptGauge

router = APIRouter(prefix="/api/ropes", tags=["ropes"])

_PHOTOS_AT_MOST = 6  # a worker holds them all at once
Ropes = Annotated[list[Annotated[str, Query(max_length=60)]], Query(min_length=1, max_length=12)]


def _asked(request: Request, ropes: list[str], *, same_piece: bool) -> dict[str, Any]:
    """What a job compares: ``PHOTO`` tells all ropes of that photo, ``PHOTO:2`` the second in it."""
    photos = state_of(request).photos
    told = []
    for text in ropes:
        photo, sign, number = text.partition(":")
        if sign and not (number.isascii() and number.isdecimal()):
            raise OptionError(f"{text}: say a rope as its photo, and behind a colon its number in it")
        entry = finished(photos, photo, "rope")
        wishes = photos.asked(entry)
        told.append({"path": str(entry.path), "wishes": wishes, "number": int(number) if sign else None})
    if len({rope["path"] for rope in told}) > _PHOTOS_AT_MOST:
        raise OptionError(f"ropes of {_PHOTOS_AT_MOST} photos at most are compared at a time")
    return {"ropes": told, "same_piece": same_piece}


@router.get("/compared")
async def compared(request: Request, photo: Ropes, same_piece: bool = False) -> dict[str, Any]:
    """Several audited ropes, each against each; or one rope in two photos, judged by both."""
    what = _asked(request, photo, same_piece=same_piece)
    answer: dict[str, Any] = (await done(state_of(request).pool.submit("compare", what, worker=1)))["shown"]
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


@router.post("/{photo}/gauge")
def keep_gauge(request: Request, photo: str, which: KeptGauge) -> dict[str, Any]:
    """Keep the gauge that a photo sheet told of a rope, for its motif and a size of bead, beside the list."""
    state = state_of(request)
    entry = finished(state.photos, photo, "rope")
    pieces = (entry.result or {})["answer"]["pieces"]
    told = next((one.get("gauge") for one in pieces if one["number"] == which.rope), None)
    if told is None or not entry.wishes.get("motif"):
        raise OptionError(
            f"{entry.name} tells no gauge to keep; lay the rope on a photo sheet, and name its motif"
        )
    gauge = Gauge(round(told["rounds"], 1), told["in_mm"])
    motif, size = known_motif(entry.wishes["motif"], state.stock_file), units.size(which.size)
    file = agreed.file_of(state.stock_file)
    key = gauge_keys(motif, size, None, {}, {})[0]
    keep(file, key, gauge)
    return {"file": file.name, "key": key, "gauge": str(gauge)}


@router.get("/compared.{kind}", response_class=Response)
async def take_away(
    request: Request, kind: Literal["html", "json", "csv"], photo: Ropes, same_piece: bool = False
) -> Response:
    """The comparison to keep."""
    pool, what = state_of(request).pool, _asked(request, photo, same_piece=same_piece)
    if kind == "html":
        return download(await done(pool.submit("audit_report", what, worker=1)), "text/html", "audit.html")
    answer = (await done(pool.submit("compare", what, worker=1)))["answer"]
    if kind == "json":
        return download(json_text(answer), "application/json", "audit.json")
    return download(tables.audit_csv(answer), "text/csv", "audit.csv")
