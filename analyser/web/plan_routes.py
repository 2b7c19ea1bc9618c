"""A rope that goes from colour to colour."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.web.common import done, download, jpeg, state_of
from analyser.web.wishes import PlanWishes

router = APIRouter(prefix="/api/plan", tags=["plans"])

Asked = Annotated[PlanWishes, Query()]
Given = Annotated[str, Query(max_length=200)]
_JPEG: dict[int | str, dict[str, Any]] = {200: {"content": {"image/jpeg": {}}}}
_HTML: dict[int | str, dict[str, Any]] = {200: {"content": {"text/html": {}}}}
_TOML: dict[int | str, dict[str, Any]] = {200: {"content": {"application/toml": {}}}}


async def _job(request: Request, name: str, asked: PlanWishes, **more: Any) -> Any:
    state = state_of(request)
    what = {"stock_file": str(state.stock_file), "wishes": asked.model_dump(), **more}
    return await done(state.pool.submit(name, what, urgent=True))


@router.get("")
async def plan(request: Request, asked: Asked) -> dict[str, Any]:
    """A planned rope, counted bead by bead: what is seen of it, and where its stretches lie."""
    answer: dict[str, Any] = await _job(request, "plan", asked)
    return answer


@router.get("/whole", response_class=Response, responses=_JPEG)
async def whole(request: Request, asked: Asked) -> Response:
    """The whole rope laid straight."""
    return jpeg(await _job(request, "plan_rope", asked, part="whole"))


@router.get("/close", response_class=Response, responses=_JPEG)
async def close(request: Request, asked: Asked) -> Response:
    """The middle of the rope close by."""
    return jpeg(await _job(request, "plan_rope", asked, part="close"))


@router.get("/chart.html", response_class=Response, responses=_HTML)
async def chart(request: Request, asked: Asked) -> Response:
    """The chart to weave it by."""
    return download(await _job(request, "plan_chart", asked), "text/html", "chart.html")


@router.get("/plan.toml", response_class=Response, responses=_TOML)
async def file(request: Request, asked: Asked) -> Response:
    """The plan as a file, for ``--plan``."""
    answer = await _job(request, "plan", asked)
    return download(answer["plan"], "application/toml", "plan.toml")


@router.get("/series")
async def series(
    request: Request,
    first: Given,
    last: Given,
    count: Annotated[int, Query(ge=2, le=7)] = 4,
    motif: Given = "chenille",
    size: Given = "11/0",
    length: Given = "18cm",
    role: Given = "body",
) -> dict[str, Any]:
    """The beads of the list that step most evenly from one to another, enough of each for a length."""
    state = state_of(request)
    wishes = {"motif": motif, "size": size, "length": length, "role": role}
    ends = {"first": first, "last": last, "count": count}
    what = {"stock_file": str(state.stock_file), **ends, "wishes": wishes}
    answer: dict[str, Any] = await done(state.pool.submit("plan_series", what, urgent=True))
    return answer
