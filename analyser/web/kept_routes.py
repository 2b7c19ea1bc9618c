"""Kept colourways: listed, marked, deleted to the bin, and a pair of a photo kept."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.piece import kept
from analyser.report import kept_answers
from analyser.web import shown
from analyser.web.common import done, jpeg, state_of, view
from analyser.web.photo_routes import finished
from analyser.web.photo_store import UnknownError
from analyser.web.wishes import Keeping, KeptAgain, KeptState

router = APIRouter(prefix="/api/kept", tags=["kept"])

Given = Annotated[str, Query(max_length=200)]


def _folder(request: Request) -> Path:
    return kept.folder_of(state_of(request).stock_file)


def kept_path(request: Request, colourway: str) -> Path:
    """The file of a kept colourway by its name."""
    try:
        return kept.find(_folder(request), colourway)
    except kept.KeptError as error:
        raise UnknownError(str(error)) from error


def _fields(path: Path, one: kept.KeptColourway) -> dict[str, Any]:
    fields = kept_answers.kept_fields(path, one)
    shown.add_css(fields)
    return fields | {"id": path.stem, "file": path.name, "picture": path.with_suffix(".jpg").is_file()}


@router.get("")
def list_kept(request: Request, bead: Annotated[str | None, Query(max_length=200)] = None) -> dict[str, Any]:
    """All that is kept, the newest first, or what holds a bead."""
    folder = _folder(request)
    found, faulty = kept.read_all(folder)
    beads = {bead.id: bead.name for one in found.values() for bead in one.beads.values()}
    return {
        "folder": folder.name,
        "colourways": [_fields(path, one) for path, one in found.items() if bead is None or one.holds(bead)],
        "beads": [{"id": number, "name": name} for number, name in sorted(beads.items())],
        "faulty": [str(error).replace(f"{folder}/", "") for error in faulty],
    }


@router.post("", status_code=201)
async def keep(request: Request, wish: Keeping) -> dict[str, Any]:
    """Keep a pair of a photo's colourway under a name."""
    state = state_of(request)
    entry = finished(state.photos, wish.photo, "colourway")
    arguments = {
        "path": str(entry.path),
        "stock_file": str(state.stock_file),
        "wishes": entry.wishes,
        **wish.model_dump(include={"pair", "name", "note", "company", "plan"}),
    }
    path = Path(await done(state.pool.submit("keep", arguments, worker=0, urgent=True)))
    return {"id": path.stem, "file": f"{path.parent.name}/{path.name}"}


@router.get("/sheet", response_class=Response, responses={200: {"content": {"text/html": {}}}})
async def sheet(request: Request, name: Annotated[list[str], Query(min_length=1, max_length=12)]) -> Response:
    """One or several as a page of its own, to print or to send."""
    paths = [kept_path(request, one) for one in name]
    job = state_of(request).pool.submit("kept_sheet", {"paths": [str(path) for path in paths]}, urgent=True)
    file = f"{paths[0].stem if len(paths) == 1 else 'side-by-side'}.html"
    return view(await done(job), file)


@router.get("/{colourway}/count")
async def count(
    request: Request,
    colourway: str,
    length: Given | None = None,
    wrist: Given | None = None,
    neck: Given | None = None,
) -> dict[str, Any]:
    """What it takes in another length, from the list as it is now."""
    state, path = state_of(request), kept_path(request, colourway)
    lengths = {"length": length, "wrist": wrist, "neck": neck}
    arguments = {"stock_file": str(state.stock_file), "path": str(path), "lengths": lengths}
    answer: dict[str, Any] = await done(state.pool.submit("kept_count", arguments, urgent=True))
    return answer


@router.post("/{colourway}/again", status_code=201)
async def again(request: Request, colourway: str, wish: KeptAgain) -> dict[str, Any]:
    """Keep it in another length, under another name; the first stays as it is."""
    state, path = state_of(request), kept_path(request, colourway)
    lengths = wish.model_dump(include={"length", "wrist", "neck"})
    arguments = {
        "stock_file": str(state.stock_file),
        "path": str(path),
        "lengths": lengths,
        "name": wish.name,
    }
    made = Path(await done(state.pool.submit("kept_again", arguments, urgent=True)))
    return {"id": made.stem, "file": f"{made.parent.name}/{made.name}"}


@router.put("/{colourway}/state")
def mark(request: Request, colourway: str, state: KeptState) -> dict[str, Any]:
    """Say what has become of it."""
    path = kept_path(request, colourway)
    return _fields(path, kept.mark(path, state.state))


@router.delete("/{colourway}")
def delete(request: Request, colourway: str) -> dict[str, Any]:
    """Lay it in the bin beside the others."""
    there = kept.delete(kept_path(request, colourway))
    return {"moved_to": f"{there.parent.parent.name}/{there.parent.name}/{there.name}"}


@router.get("/{colourway}/picture", response_class=Response, responses={200: {"content": {"image/jpeg": {}}}})
def picture(request: Request, colourway: str) -> Response:
    """The small picture of the photo it was made from."""
    path = kept_path(request, colourway).with_suffix(".jpg")
    if not path.is_file():
        raise UnknownError(f"there is no picture beside {path.stem}.toml")
    return jpeg(path.read_bytes())
