"""From a photo to palette, matches and pairs; the queue of photos."""

from __future__ import annotations

import asyncio
import json
import time
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.web import tables
from analyser.web.common import done, download, jpeg, room_of
from analyser.web.photos import LANES, PAGES, Bench, Look, UnknownError, Use
from analyser.web.receiving import received
from analyser.web.wishes import ColourwayWishes, NamedPiles, RopeWishes, TrayWishes
from analyser.web.workers import RefusedError

router = APIRouter(prefix="/api/photos", tags=["photos"])

_BYTES = {
    "requestBody": {
        "required": True,
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    }
}
_WISHES: dict[Use, type[ColourwayWishes | RopeWishes | TrayWishes]] = {
    "colourway": ColourwayWishes,
    "rope": RopeWishes,
    "tray": TrayWishes,
}
_PICTURES: dict[Use, str] = {"colourway": "photo_picture", "rope": "rope_photo", "tray": "tray_photo"}
_KEPT_AS: dict[Use, str] = {"colourway": "colourway", "rope": "audit", "tray": "piles"}
_WAIT_S = 10.0
_PIXEL = Query(ge=-1e6, le=1e6)


def about(look: Look, *, whole: bool = True) -> dict[str, Any]:
    """A photo as the page sees it."""
    told: dict[str, Any] = {
        "id": look.id,
        "use": look.use,
        "name": look.name,
        "address": f"/{PAGES[look.use]}/{look.id}",
        "state": look.state,
        "stage": look.stage,
        "kind": look.kind,
        "says": look.says,
        "version": look.version,
    }
    if whole:
        told["wishes"] = look.wishes
        told["result"] = look.result["shown"] if look.result else look.partial
        told["provisional"] = look.result is None and look.partial is not None
    return told


def finished(bench: Bench, photo: str, use: Use) -> Look:
    """A photo whose answer is there."""
    look = bench.get(photo)
    if look.use != use or look.result is None:
        raise UnknownError(f"there is no answer for {look.name} yet")
    return look


@router.post("", status_code=201, openapi_extra=_BYTES)
async def add_photo(request: Request, use: Use = "colourway") -> dict[str, Any]:
    """Take a photo in (the body is the file, ``X-File-Name`` its name) and begin with it."""
    bench = room_of(request).bench
    path = await received(request, bench, photo=True)
    wishes = _WISHES[use]().model_dump()
    return about(bench.add(path, use, wishes), whole=False)


@router.get("")
async def list_photos(request: Request) -> dict[str, Any]:
    """All photos of this run, the newest first."""
    return {"photos": [about(look, whole=False) for look in room_of(request).bench.all()]}


@router.delete("")
async def forget_all(request: Request) -> dict[str, Any]:
    """Forget all photos and their answers; the stock list stays."""
    bench = room_of(request).bench
    looks = bench.all()
    for look in looks:
        bench.forget(look)
    return {"forgotten": len(looks)}


@router.get("/{photo}")
async def one_photo(request: Request, photo: str, seen: int | None = None) -> dict[str, Any]:
    """A photo and its answer; with ``seen`` waits a while for a version other than that."""
    room = room_of(request)
    look = room.bench.get(photo)
    deadline = time.monotonic() + _WAIT_S
    while seen == look.version and time.monotonic() < deadline and not room.closed:
        await asyncio.sleep(0.03)
    return about(look)


@router.delete("/{photo}")
async def forget(request: Request, photo: str) -> dict[str, Any]:
    """Forget a photo and its answer."""
    bench = room_of(request).bench
    bench.forget(bench.get(photo))
    return {"forgotten": 1}


@router.post("/{photo}/stop")
async def stop(request: Request, photo: str) -> dict[str, Any]:
    """Stop the work on a photo."""
    bench = room_of(request).bench
    look = bench.get(photo)
    bench.cancel(look)
    return about(look, whole=False)


@router.post("/{photo}/again")
async def again(request: Request, photo: str) -> dict[str, Any]:
    """Begin again with a photo that was stopped or failed."""
    bench = room_of(request).bench
    look = bench.get(photo)
    bench.begin(look)
    return about(look, whole=False)


@router.post("/{photo}/another", status_code=201)
async def another(request: Request, photo: str) -> dict[str, Any]:
    """Begin a colourway from the same photo of a finished rope: another of this."""
    bench = room_of(request).bench
    look = bench.get(photo)
    wishes = ColourwayWishes(from_rope=True, length=look.wishes.get("length") or "18cm")
    return about(bench.another(look, "colourway", wishes.model_dump()), whole=False)


@router.put("/{photo}/wishes")
async def change_wishes(request: Request, photo: str, wishes: ColourwayWishes) -> dict[str, Any]:
    """Ask for the same photo with other wishes; wishes that do not fit leave the answer as it was."""
    bench = room_of(request).bench
    look = bench.get(photo)
    if look.use != "colourway":
        raise UnknownError(f"{look.name} was added as a finished rope")
    before, look.wishes = look.wishes, wishes.model_dump()
    begun = bench.begin(look, urgent=True)
    try:
        await asyncio.shield(asyncio.wrap_future(begun))
    except RefusedError as error:
        if look.result is not None:
            look.wishes, look.state = before, "done"
        raise RefusedError(error.kind, bench.plain(look.path, str(error))) from error
    return about(look)


@router.put("/{photo}/rope-wishes")
async def change_rope_wishes(request: Request, photo: str, wishes: RopeWishes) -> dict[str, Any]:
    """Say motif and length of a finished rope, so that places are told in centimetres and rounds."""
    bench = room_of(request).bench
    look = bench.get(photo)
    if look.use != "rope":
        raise UnknownError(f"{look.name} was not added as a finished rope")
    look.wishes = wishes.model_dump()
    bench.begin(look)
    return about(look)


@router.get("/{photo}/colour")
async def touched_colour(
    request: Request, photo: str, x: Annotated[float, _PIXEL], y: Annotated[float, _PIXEL]
) -> dict[str, Any]:
    """The colour round a place of the photo, and the beads nearest to it."""
    room = room_of(request)
    look = finished(room.bench, photo, "colourway")
    where = {"path": str(look.path), "stock_file": str(room.stock_file), "wishes": look.wishes}
    answer: dict[str, Any] = await done(
        room.pool.submit("spot", {**where, "x": x, "y": y}, lane=0, urgent=True)
    )
    return answer


@router.get("/{photo}/picture", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
async def picture(request: Request, photo: str) -> Response:
    """The calibrated photo."""
    room = room_of(request)
    look = room.bench.get(photo)
    arguments = {"path": str(look.path), "wishes": look.wishes}
    call = room.pool.submit(_PICTURES[look.use], arguments, lane=LANES[look.use], urgent=True)
    return jpeg(await done(call))


@router.get("/{photo}/close-up", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
async def close_up(
    request: Request,
    photo: str,
    x: Annotated[float, _PIXEL],
    y: Annotated[float, _PIXEL],
    side: Annotated[float, Query(ge=8, le=20000)],
) -> Response:
    """A square of the calibrated photo round a place, enlarged."""
    room = room_of(request)
    look = room.bench.get(photo)
    wishes = {**look.wishes, "use": look.use}
    arguments = {"path": str(look.path), "wishes": wishes, "x": x, "y": y, "side": side}
    call = room.pool.submit("photo_crop", arguments, lane=LANES[look.use], urgent=True)
    return jpeg(await done(call))


@router.get("/{photo}/answer.{kind}", response_class=Response)
async def take_away(request: Request, photo: str, kind: Literal["html", "json", "csv"]) -> Response:
    """The answer to keep: as the one-page report, as JSON, as CSV."""
    room = room_of(request)
    look = room.bench.get(photo)
    if look.result is None or (look.use == "tray" and kind != "json"):
        raise UnknownError(f"there is no such answer for {look.name}")
    name = f"{look.path.stem}-{_KEPT_AS[look.use]}.{kind}"
    if kind == "html":
        where: dict[str, Any] = {"wishes": look.wishes}
        if look.use == "colourway":
            where |= {"path": str(look.path), "stock_file": str(room.stock_file)}
            call = room.pool.submit("colourway_report", where, lane=0)
        else:
            call = room.pool.submit("audit_report", {**where, "paths": [str(look.path)]}, lane=1)
        return download(await done(call), "text/html", name)
    answer = look.result["answer"]
    if kind == "json":
        return download(json.dumps(answer, ensure_ascii=False, indent=1), "application/json", name)
    table = tables.colourway_csv(answer) if look.use == "colourway" else tables.audit_csv(answer)
    return download(table, "text/csv", name)


@router.post("/{photo}/piles")
async def add_piles(request: Request, photo: str, named: NamedPiles) -> dict[str, Any]:
    """Add piles of a tray photo to the stock list under the names given."""
    room = room_of(request)
    look = finished(room.bench, photo, "tray")
    arguments = {"path": str(look.path), "wishes": look.wishes, **named.model_dump()}
    beads = await done(room.pool.submit("named_piles", arguments, lane=LANES["tray"]))
    return {"added": room.drawer.add(beads), "undo": room.drawer.undo_says}
