"""Kits of kept colourways: what they take and what is short, their cards, the booking."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from analyser.web.common import done, download, state_of, view
from analyser.web.kept_routes import kept_path
from analyser.web.wishes import Packing

router = APIRouter(prefix="/api/pack", tags=["pack"])

Asked = Annotated[Packing, Query()]
_ORDER_TYPES = {
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}


async def _made(request: Request, asked: Packing, wanted: str) -> Any:
    state = state_of(request)
    arguments = {
        "stock_file": str(state.stock_file),
        "kits": [
            (str(kept_path(request, name)), kits) for name, kits in zip(asked.kept, asked.kits, strict=True)
        ],
        "spare": asked.spare,
        "pack_grams": asked.pack_grams,
        "wanted": wanted,
    }
    return await done(state.pool.submit("packed", arguments, urgent=True))


@router.get("")
async def look(request: Request, asked: Asked) -> dict[str, Any]:
    """What the kits take of each lot, what is short, what to buy, and their cards."""
    answer: dict[str, Any] = await _made(request, asked, "answer")
    return answer


@router.get("/cards", response_class=Response, responses={200: {"content": {"text/html": {}}}})
async def cards(request: Request, asked: Asked) -> Response:
    """The cards as a page to print, eight to an A4."""
    return view(await _made(request, asked, "cards"), "kit-cards.html")


@router.get("/order.{kind}", response_class=Response)
async def order(request: Request, kind: Literal["csv", "xlsx"], asked: Asked) -> Response:
    """The shopping list as a file."""
    return download(await _made(request, asked, kind), _ORDER_TYPES[kind], f"shopping-list.{kind}")


@router.post("/book")
async def book(request: Request, asked: Packing) -> dict[str, Any]:
    """Book out all the kits at once, each kit's beads of one lot; or nothing, where a kit is not sure."""
    drawer = state_of(request).drawer
    takes = await _made(request, asked, "takes")
    says = f"{sum(asked.kits)} kit{'s' * (sum(asked.kits) != 1)} booked out"
    return {"lines": drawer.book_out(takes, says), "undo": drawer.undo_says}
