"""Small things the handlers share."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast
from urllib.parse import quote

from fastapi import Request
from fastapi.responses import Response

from analyser.web.drawer import Drawer
from analyser.web.guard import REPORT_POLICY, Keys
from analyser.web.photo_store import PhotoStore
from analyser.web.workers import Job, Pool


@dataclass
class AppState:
    """What the handlers share: ``request.app.state.shared``."""

    stock_file: Path
    pool: Pool
    photos: PhotoStore
    drawer: Drawer
    keys: Keys
    lan: bool = False
    closed: bool = field(default=False)


def state_of(request: Request) -> AppState:
    """What the handlers share."""
    return cast("AppState", request.app.state.shared)


async def done(job: Job) -> Any:
    """The answer of a job, awaited; a page that goes away stops nobody else's work."""
    return await asyncio.shield(asyncio.wrap_future(job.future))


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


def view(page: str, name: str) -> Response:
    """A self-contained page to look at, to print or to save under that name."""
    headers = {
        "content-disposition": f"inline; filename*=UTF-8''{quote(name)}",
        "content-security-policy": REPORT_POLICY,
        "cache-control": "no-store",
    }
    return Response(page, media_type="text/html", headers=headers)
