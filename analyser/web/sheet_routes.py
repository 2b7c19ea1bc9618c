"""The photo sheet: printed, and its paper's white remembered."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.photo.sheet_layout import NAMES, Kind, Paper
from analyser.web.common import done, download, state_of
from analyser.web.photo_routes import BYTES
from analyser.web.photo_store import PhotoEntry
from analyser.web.receiving import received
from analyser.web.workers import RefusedError

router = APIRouter(prefix="/api/sheet", tags=["photo sheet"])

_KINDS = {"pdf": "application/pdf", "png": "image/png"}
Name = Literal[NAMES]  # type: ignore[valid-type]  # the names are told in one place


@router.get("/photo-sheet.{kind}", response_class=Response)
async def sheet(
    request: Request,
    kind: Literal["pdf", "png"],
    layout: Kind = "rope",
    paper: Paper = "a4",
    name: Name = NAMES[0],
) -> Response:
    """The sheet to print at actual size."""
    what = {"kind": kind, "form": layout, "paper": paper, "name": name}
    made: bytes = await done(state_of(request).pool.submit("sheet_file", what))
    return download(made, _KINDS[kind], f"photo-sheet-{layout}.{kind}")


@router.post("/paper", openapi_extra=BYTES)
async def learn(
    request: Request, scale_is: Annotated[str, Query(max_length=40)] | None = None
) -> dict[str, Any]:
    """Remember the white of a paper, from a photo (the body) of the sheet with a white card on its frame.

    Photos on that paper which were answered before are answered anew.
    """
    state = state_of(request)
    path = await received(request, state.photos, photo=True)
    try:
        answer: dict[str, Any] = await done(
            state.pool.submit("learn_paper", {"path": str(path), "scale_is": scale_is}, worker=1)
        )
    except RefusedError as error:
        raise RefusedError(error.kind, state.photos.plain(path, str(error))) from error
    finally:
        state.photos.drop(path)
    again = [entry for entry in state.photos.all() if _lies_on(entry, answer["learnt"]["name"])]
    for entry in again:
        state.photos.begin(entry)
    return {**answer, "answered_anew": [entry.name for entry in again]}


def _lies_on(entry: PhotoEntry, paper: str) -> bool:
    """Whether a photo's answer says that it was taken on a sheet of that paper."""
    if entry.result is None:
        return False
    answer = entry.result["answer"]
    of_each = answer.get("pieces", [answer])
    return any(one["calibration"].get("sheet", {}).get("name") == paper for one in of_each)
