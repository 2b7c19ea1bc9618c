"""From a photo to palette, matches and pairs; the queue of photos."""

from __future__ import annotations

import asyncio
import time
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.photo.reference import box_within
from analyser.phrases import audits
from analyser.report.json_text import json_text
from analyser.web import tables
from analyser.web.common import done, download, jpeg, state_of
from analyser.web.photo_store import PAGES, WORKERS, PhotoEntry, PhotoStore, UnknownError, Use
from analyser.web.receiving import received
from analyser.web.wishes import AboutCard, ColourwayWishes, PhotoWishes, RopeWishes, TrayWishes
from analyser.web.workers import RefusedError

router = APIRouter(prefix="/api/photos", tags=["photos"])

#: Of a path whose body is a file.
BYTES: dict[str, Any] = {
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


def about(entry: PhotoEntry, *, whole: bool = True) -> dict[str, Any]:
    """A photo as the page sees it."""
    told: dict[str, Any] = {
        "id": entry.id,
        "use": entry.use,
        "name": entry.name,
        "address": f"/{PAGES[entry.use]}/{entry.id}",
        "state": entry.state,
        "stage": entry.stage,
        "kind": entry.kind,
        "says": entry.says,
        "version": entry.version,
    }
    if entry.use == "rope" and entry.result is not None:
        pieces = entry.result["answer"]["pieces"]
        told["verdicts"] = [
            audits.verdict(one["verdict"], {finding["kind"] for finding in one["findings"]}) for one in pieces
        ]
    if whole:
        told["wishes"] = entry.wishes
        told["result"] = entry.result["shown"] if entry.result else entry.partial
        told["provisional"] = entry.result is None and entry.partial is not None
    return told


def finished(photos: PhotoStore, photo: str, use: Use) -> PhotoEntry:
    """A photo whose answer is there."""
    entry = photos.get(photo)
    if entry.use != use or entry.result is None:
        raise UnknownError(f"there is no answer for {entry.name} yet")
    return entry


@router.post("", status_code=201, openapi_extra=BYTES)
async def add_photo(request: Request, use: Use = "colourway") -> dict[str, Any]:
    """Take a photo in (the body is the file, ``X-File-Name`` its name) and begin with it."""
    photos = state_of(request).photos
    path = await received(request, photos, photo=True)
    wishes = _WISHES[use]().model_dump()
    return about(photos.add(path, use, wishes), whole=False)


@router.get("")
async def list_photos(request: Request) -> dict[str, Any]:
    """All photos that are kept, the newest first."""
    return {"photos": [about(entry, whole=False) for entry in state_of(request).photos.all()]}


@router.delete("")
async def forget_all(request: Request) -> dict[str, Any]:
    """Forget all photos and their answers; the stock list stays."""
    return {"forgotten": state_of(request).photos.clear()}


@router.get("/{photo}")
async def one_photo(request: Request, photo: str, seen: int | None = None) -> dict[str, Any]:
    """A photo and its answer; with ``seen`` waits a while for a version other than that."""
    state = state_of(request)
    entry = state.photos.get(photo)
    deadline = time.monotonic() + _WAIT_S
    while seen == entry.version and time.monotonic() < deadline and not state.closed:
        await asyncio.sleep(0.03)
    return about(entry)


@router.delete("/{photo}")
async def forget(request: Request, photo: str) -> dict[str, Any]:
    """Forget a photo and its answer."""
    photos = state_of(request).photos
    photos.forget(photos.get(photo))
    return {"forgotten": 1}


@router.post("/{photo}/stop")
async def stop(request: Request, photo: str) -> dict[str, Any]:
    """Stop the work on a photo."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    photos.cancel(entry)
    return about(entry, whole=False)


@router.post("/{photo}/again")
async def again(request: Request, photo: str) -> dict[str, Any]:
    """Begin again with a photo that was stopped or failed."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    photos.begin(entry)
    return about(entry, whole=False)


@router.post("/{photo}/another", status_code=201)
async def another(request: Request, photo: str) -> dict[str, Any]:
    """Begin a colourway from the same photo of a finished rope: another of this."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    wishes = ColourwayWishes(from_rope=True, length=entry.wishes.get("length") or "18cm")
    return about(photos.another(entry, "colourway", wishes.model_dump()), whole=False)


@router.put("/{photo}/wishes")
async def change_wishes(request: Request, photo: str, wishes: ColourwayWishes) -> dict[str, Any]:
    """Ask for the same photo with other wishes; wishes that do not fit leave the answer as it was."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    if entry.use != "colourway":
        raise UnknownError(f"{entry.name} was added as a finished rope")
    return await _redone(photos, entry, wishes.model_dump())


async def _redone(photos: PhotoStore, entry: PhotoEntry, wishes: dict[str, Any]) -> dict[str, Any]:
    """The photo with other wishes, once they are met; wishes that do not fit leave the answer as it was."""
    before, entry.wishes = entry.wishes, wishes
    begun = photos.begin(entry, urgent=True)
    try:
        await asyncio.shield(asyncio.wrap_future(begun))
    except RefusedError as error:
        if entry.result is not None:
            entry.wishes, entry.state = before, "done"
            photos.keep(entry)
        raise RefusedError(error.kind, photos.plain(entry.path, str(error))) from error
    return about(entry)


@router.put("/{photo}/rope-wishes")
async def change_rope_wishes(request: Request, photo: str, wishes: RopeWishes) -> dict[str, Any]:
    """Say motif and length of a finished rope, so that places are told in cm and rounds; or its plan."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    if entry.use != "rope":
        raise UnknownError(f"{entry.name} was not added as a finished rope")
    entry.wishes = {**entry.wishes, **wishes.model_dump(exclude_unset=True)}
    photos.begin(entry)
    return about(entry)


@router.put("/{photo}/light")
async def change_light(request: Request, photo: str, wishes: PhotoWishes) -> dict[str, Any]:
    """Say by what a photo's colours are corrected; the answer is redone with that."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    return await _redone(photos, entry, {**entry.wishes, **wishes.model_dump()})


@router.put("/{photo}/card")
async def say_of_card(request: Request, photo: str, about_card: AboutCard) -> dict[str, Any]:
    """Say what the outlined thing is that may be a card or white paper; the answer is redone with that."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    told: dict[str, Any] = {"calibration": "auto", "card": None, "no_card": about_card.says == "no"}
    if about_card.says in ("white", "grey"):
        x, y, width, height = box_within(_outline(entry))
        told["card"] = f"{x},{y},{width},{height}:{about_card.says}"
    elif about_card.says == "paper":
        told["calibration"] = "paper"
    return await _redone(photos, entry, {**entry.wishes, **told})


def _outline(entry: PhotoEntry) -> Any:
    """Corners of what may be a card in a photo whose answer is there."""
    answer = entry.result["answer"] if entry.result else {}
    calibration = answer.get("pieces", [answer])[0].get("calibration", {})
    if not calibration.get("reference"):
        raise UnknownError(f"nothing in {entry.name} was taken for a card")
    return calibration["reference"]["outline"]


@router.get("/{photo}/colour")
async def touched_colour(
    request: Request,
    photo: str,
    x: Annotated[float, _PIXEL],
    y: Annotated[float, _PIXEL],
    top: Annotated[int, Query(ge=1, le=50)] = 3,
) -> dict[str, Any]:
    """The colour round a place of the photo, and the beads nearest to it."""
    state = state_of(request)
    entry = finished(state.photos, photo, "colourway")
    where = {"path": str(entry.path), "stock_file": str(state.stock_file), "wishes": entry.wishes}
    answer: dict[str, Any] = await done(
        state.pool.submit("spot", {**where, "x": x, "y": y, "top": top}, worker=0, urgent=True)
    )
    return answer


@router.get("/{photo}/picture", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
async def picture(request: Request, photo: str) -> Response:
    """The calibrated photo."""
    state = state_of(request)
    entry = state.photos.get(photo)
    arguments = {"path": str(entry.path), "wishes": state.photos.asked(entry)}
    job = state.pool.submit(_PICTURES[entry.use], arguments, worker=WORKERS[entry.use], urgent=True)
    return jpeg(await done(job))


@router.get(
    "/{photo}/corrected.jpg", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}}
)
async def corrected(request: Request, photo: str) -> Response:
    """The photo in corrected colours, tagged sRGB, for a shop's page."""
    state = state_of(request)
    entry = state.photos.get(photo)
    wishes = {**state.photos.asked(entry), "use": entry.use}
    job = state.pool.submit(
        "corrected", {"path": str(entry.path), "wishes": wishes}, worker=WORKERS[entry.use]
    )
    return download(await done(job), "image/jpeg", f"{entry.path.stem}-corrected.jpg")


@router.put("/{photo}/mask", openapi_extra=BYTES)
async def mark_subject(request: Request, photo: str) -> dict[str, Any]:
    """Say what is meant by a picture of the photo's shape (the body), white where the subject is."""
    photos = state_of(request).photos
    entry = photos.get(photo)
    if entry.use != "colourway":
        raise UnknownError(f"{entry.name} was not added for its colours")
    mask = photos.add_mask(entry, await received(request, photos, photo=True))
    return await _redone(photos, entry, {**entry.wishes, "mask": mask})


@router.get("/{photo}/close-up", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
async def close_up(
    request: Request,
    photo: str,
    x: Annotated[float, _PIXEL],
    y: Annotated[float, _PIXEL],
    side: Annotated[float, Query(ge=8, le=20000)],
) -> Response:
    """A square of the calibrated photo round a place, enlarged."""
    state = state_of(request)
    entry = state.photos.get(photo)
    wishes = {**state.photos.asked(entry), "use": entry.use}
    arguments = {"path": str(entry.path), "wishes": wishes, "x": x, "y": y, "side": side}
    job = state.pool.submit("photo_crop", arguments, worker=WORKERS[entry.use], urgent=True)
    return jpeg(await done(job))


@router.get("/{photo}/answer.{kind}", response_class=Response)
async def take_away(request: Request, photo: str, kind: Literal["html", "json", "csv"]) -> Response:
    """The answer to keep: as the one-page report, as JSON, as CSV."""
    state = state_of(request)
    entry = state.photos.get(photo)
    if entry.result is None or (entry.use == "tray" and kind != "json"):
        raise UnknownError(f"there is no such answer for {entry.name}")
    name = f"{entry.path.stem}-{_KEPT_AS[entry.use]}.{kind}"
    if kind == "html":
        where: dict[str, Any] = {"wishes": state.photos.asked(entry)}
        if entry.use == "colourway":
            where |= {"path": str(entry.path), "stock_file": str(state.stock_file)}
            job = state.pool.submit("colourway_report", where, worker=0)
        else:
            rope = {**where, "path": str(entry.path), "number": None}
            job = state.pool.submit("audit_report", {"ropes": [rope], "same_piece": False}, worker=1)
        return download(await done(job), "text/html", name)
    answer = entry.result["answer"]
    if kind == "json":
        return download(json_text(answer), "application/json", name)
    table = tables.colourway_csv(answer) if entry.use == "colourway" else tables.audit_csv(answer)
    return download(table, "text/csv", name)
