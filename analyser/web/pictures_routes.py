"""Pictures of ropes and piles, and two beads beside each other."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.motif import parsing
from analyser.web.common import done, jpeg, png, state_of
from analyser.web.wishes import Drawn, PairWishes

router = APIRouter(prefix="/api", tags=["pictures"])

Given = Annotated[str, Query(max_length=200)]
_JPEG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/jpeg": {}}}}
_PNG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/png": {}}}}


@router.get("/rope", response_class=Response, responses=_JPEG)
async def rope(request: Request, drawn: Annotated[Drawn, Query()]) -> Response:
    """A rope in the colours of its beads, from a distance, to some eyes, in a light."""
    state = state_of(request)
    what = {**drawn.model_dump(), "stock_file": str(state.stock_file)}
    picture = await done(state.pool.submit("rope_picture", what))
    return jpeg(picture, forever=drawn.motif in parsing.names())  # one of the maker's own may be changed


@router.get("/pile", response_class=Response, responses=_PNG)
async def pile(request: Request, colour: Given, finish: Given | None = None) -> Response:
    """A pile of beads in a colour."""
    return png(
        await done(state_of(request).pool.submit("pile_picture", {"colour": colour, "finish": finish}))
    )


@router.get("/pair")
async def pair(request: Request, wishes: Annotated[PairWishes, Query()]) -> dict[str, Any]:
    """Two beads or colours judged as accent and body; with a length also counted."""
    state = state_of(request)
    what = {"wishes": wishes.model_dump(), "stock_file": str(state.stock_file)}
    answer: dict[str, Any] = await done(state.pool.submit("pair", what, urgent=True))
    return answer
