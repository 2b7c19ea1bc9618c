"""The local page as an ASGI application: pages, the guard round them, and the answers of the API.

Handlers parse, hand on and answer; what is computed is computed in the pool by the functions the verbs use.
"""

from __future__ import annotations

import contextlib
from collections.abc import AsyncIterator, Sequence
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from analyser import __version__
from analyser.errors import AnalyserError
from analyser.web import (
    gauge_routes,
    kept_routes,
    motif_routes,
    pack_routes,
    pages,
    photo_routes,
    pictures_routes,
    plan_routes,
    rope_routes,
    sheet_routes,
    stock_routes,
    tray_routes,
)
from analyser.web.archive import Archive
from analyser.web.common import AppState
from analyser.web.drawer import Drawer
from analyser.web.guard import Guard, Keys
from analyser.web.photo_store import PhotoStore
from analyser.web.wishes import REFUSALS
from analyser.web.workers import Pool

UPLOAD_MB = 80.0

_STATUS = {
    "unknown": 404,
    "changed": 409,
    "further": 409,
    "there": 409,
    "cancelled": 409,
    "full": 409,
    "kind": 415,
    "busy": 429,
}


def make_app(
    stock_file: Path,
    *,
    hosts: Sequence[str] = ("127.0.0.1", "localhost", "::1"),
    keys: Keys | None = None,
    lan: bool = False,
    archive: Archive | None = None,
    upload_mb: float = UPLOAD_MB,
    seconds: float = 120.0,
    memory_mb: int = 4096,
) -> FastAPI:
    """The page for one stock list.

    Parameters
    ----------
    stock_file : Path
        CSV or XLSX; it stays the truth.
    hosts : sequence of str
        Host names the page answers under.
    keys : Keys, optional
        Secrets of this run; fresh ones if left out.
    lan : bool
        Whether the network reaches it; the page then says that the address is not encrypted.
    archive : Archive, optional
        Where photos and answers are kept between runs; without it they go with the server.
    upload_mb : float
        The largest file taken.
    seconds, memory_mb : float, int
        Limits of one piece of work.

    Returns
    -------
    FastAPI
        Its workers of work start and end with its lifespan.
    """
    held = keys or Keys()

    @contextlib.asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        pool = Pool(seconds=seconds, memory_mb=memory_mb)
        photos = PhotoStore(pool, stock_file, archive)
        drawer = Drawer(stock_file, archive.folder if archive else None)
        app.state.shared = AppState(stock_file, pool, photos, drawer, held, lan)
        try:
            yield
        finally:
            app.state.shared.closed = True
            pool.close()
            photos.close()

    app = FastAPI(
        title="analyser",
        version=__version__,
        lifespan=lifespan,
        docs_url=None,  # its pages load scripts from elsewhere
        redoc_url=None,
        responses=REFUSALS,
    )
    for routes in (
        photo_routes,
        rope_routes,
        pictures_routes,
        stock_routes,
        tray_routes,
        kept_routes,
        pack_routes,
        plan_routes,
        motif_routes,
        sheet_routes,
        gauge_routes,
    ):
        app.include_router(routes.router)
    app.include_router(pages.router)
    app.mount("/static", StaticFiles(packages=[("analyser.web", "static")]), name="static")
    app.add_exception_handler(AnalyserError, _refused)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _failed)
    app.add_middleware(Guard, hosts=frozenset(hosts), keys=held, limit_mb=upload_mb)
    return app


def _told(status: int, kind: str, says: str) -> Response:
    line = " ".join(says.split())
    return JSONResponse({"schema": 1, "error": {"kind": kind, "says": line}}, status)


async def _refused(request: Request, error: Exception) -> Response:
    kind = getattr(error, "kind", "unusable")
    # Files beside the list go by their names: where the list lies is nobody's business on the network.
    says = str(error).replace(f"{request.app.state.shared.stock_file.parent}/", "")
    return _told(500 if kind == "internal" else _STATUS.get(kind, 422), kind, says)


async def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    first = error.errors()[0]
    place = " ".join(str(part) for part in first["loc"][1:]) or "the request"
    return _told(422, "option", f"{place}: {first['msg']}")


async def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 404 and "text/html" in request.headers.get("accept", ""):
        return HTMLResponse(pages.lost(request), 404)
    return JSONResponse(
        {"schema": 1, "error": {"kind": "unknown", "says": str(error.detail)}},
        error.status_code,
        headers=error.headers,
    )


async def _failed(request: Request, error: Exception) -> Response:
    return _told(500, "internal", f"the tool itself failed: {type(error).__name__}")
