"""Small things the handlers share."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any, cast
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import Response

from analyser.web.guard import REPORT_POLICY

if TYPE_CHECKING:
    from analyser.web.app import Room
    from analyser.web.workers import Call


def room_of(request: Request) -> Room:
    """What the handlers share."""
    return cast("Room", request.app.state.room)


async def done(call: Call) -> Any:
    """The answer of a call, awaited; a page that goes away stops nobody else's work."""
    return await asyncio.shield(asyncio.wrap_future(call.future))


def jpeg(data: bytes, *, forever: bool = False) -> Response:
    """A JPEG; ``forever`` where its address says all that is in it."""
    return Response(data, media_type="image/jpeg", headers=_caching(forever))


def png(data: bytes) -> Response:
    """A PNG whose address says all that is in it."""
    return Response(data, media_type="image/png", headers=_caching(True))


def _caching(forever: bool) -> dict[str, str]:
    return {"cache-control": "private, max-age=86400, immutable" if forever else "no-cache"}


def download(content: str | bytes, kind: str, name: str) -> Response:
    """A file to keep, under a name of any alphabet."""
    headers = {"content-disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    if kind == "text/html":
        headers["content-security-policy"] = REPORT_POLICY
    return Response(content, media_type=kind, headers=headers)
