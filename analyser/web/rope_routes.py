"""Finished ropes, compared with each other."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.web import tables
from analyser.web.common import done, download, room_of
from analyser.web.photo_routes import finished
from analyser.web.photos import Bench, Look

router = APIRouter(prefix="/api/ropes", tags=["ropes"])

Photos = Annotated[list[str], Query(min_length=1, max_length=6)]


def _looks(bench: Bench, photos: list[str]) -> list[Look]:
    return [finished(bench, photo, "rope") for photo in photos]


@router.get("/compared")
async def compared(request: Request, photo: Photos) -> dict[str, Any]:
    """Several audited ropes, each against each."""
    room = room_of(request)
    looks = _looks(room.bench, photo)
    arguments = {"paths": [str(look.path) for look in looks], "wishes": looks[0].wishes}
    answer: dict[str, Any] = (await done(room.pool.submit("compare", arguments, lane=1)))["shown"]
    return answer


@router.get("/compared.{kind}", response_class=Response)
async def take_away(request: Request, kind: Literal["html", "json", "csv"], photo: Photos) -> Response:
    """The comparison to keep."""
    room = room_of(request)
    looks = _looks(room.bench, photo)
    arguments = {"paths": [str(look.path) for look in looks], "wishes": looks[0].wishes}
    if kind == "html":
        return download(
            await done(room.pool.submit("audit_report", arguments, lane=1)), "text/html", "audit.html"
        )
    answer = (await done(room.pool.submit("compare", arguments, lane=1)))["answer"]
    if kind == "json":
        text = json.dumps(answer, ensure_ascii=False, indent=1)
        return download(text, "application/json", "audit.json")
    return download(tables.audit_csv(answer), "text/csv", "audit.csv")
