"""The pages themselves: frames that the script fills from the API."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from analyser.colour.adaptation import illuminants
from analyser.colour.viewing import DISTANCES_M
from analyser.motif import own_motifs, parsing
from analyser.photo import papers
from analyser.photo.sheet_layout import NAMES
from analyser.stock import sizes
from analyser.stock.bead import FINISHES, SHAPES
from analyser.web.common import state_of

if TYPE_CHECKING:
    from jinja2 import Environment

router = APIRouter(include_in_schema=False)


@cache
def _templates() -> Environment:
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader("analyser.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def _choices() -> dict[str, Any]:
    return {
        "shipped": [(name, parsing.load(name).title) for name in parsing.names()],
        "sizes": [size for shape, size in sizes.table() if shape == "round"],
        "finishes": FINISHES,
        "shapes": SHAPES,
        "distances": [(f"{metres:g}", says) for says, metres in DISTANCES_M.items()],
        "lights": [("D65", "daylight")]
        + [
            (one.name, f"{one.stands_for}, {one.cct_k:.0f} K")
            for one in illuminants().values()
            if one.name in ("FL2", "FL11", "LED-B3", "A", "LED-B1", "LED-B2")
        ],
    }


def _page(request: Request, template: str, **more: Any) -> HTMLResponse:
    state = state_of(request)
    own = own_motifs.folder_of(state.stock_file)
    values = {
        "token": state.keys.page,
        "lan": state.lan,
        "keeps": state.photos.keeps,
        "stock": state.stock_file.name,
        **_choices(),
        "motifs": [*_choices()["shipped"], *((name, name) for name in own_motifs.names(own))],
        **more,
    }
    return HTMLResponse(_templates().get_template(template).render(**values))


def lost(request: Request) -> str:
    """The page for an address where nothing is."""
    return bytes(_page(request, "lost.html").body).decode()


@router.get("/")
async def start(request: Request) -> Response:
    """Where a photo is dropped."""
    return _page(request, "start.html")


@router.get("/photo/{photo}")
async def photo(request: Request, photo: str) -> Response:
    """A photo's palette, matches and pairs."""
    return _page(request, "photo.html", photo=photo)


@router.get("/pair")
async def pair(request: Request) -> Response:
    """Two beads beside each other."""
    return _page(request, "pair.html")


@router.get("/plan")
async def plan(request: Request) -> Response:
    """A rope that goes from colour to colour."""
    return _page(request, "plan.html")


@router.get("/ropes")
async def ropes(request: Request) -> Response:
    """Where photos of finished ropes are dropped, and how they compare."""
    return _page(request, "ropes.html")


@router.get("/rope/{photo}")
async def rope(request: Request, photo: str) -> Response:
    """A finished rope's audit."""
    return _page(request, "rope.html", photo=photo)


@router.get("/tray/{photo}")
async def tray(request: Request, photo: str) -> Response:
    """A tray photo's piles, to be named and added to the list."""
    return _page(request, "tray.html", photo=photo)


@router.get("/kept")
async def kept(request: Request) -> Response:
    """The kept colourways."""
    return _page(request, "kept.html")


@router.get("/motif")
async def motif(request: Request) -> Response:
    """A motif of the maker's own, written and drawn."""
    return _page(request, "motif.html")


@router.get("/sheet")
async def sheet(request: Request) -> Response:
    """The photo sheet, to print and to have its paper learnt."""
    return _page(request, "sheet.html", papers=NAMES, learnt=sorted(papers.known()))


@router.get("/pack")
async def pack(request: Request) -> Response:
    """Kits of kept colourways."""
    return _page(request, "pack.html")


@router.get("/drawer")
async def drawer(request: Request) -> Response:
    """The bead drawer."""
    return _page(request, "drawer.html")


@router.get("/favicon.ico")
async def icon() -> Response:
    """The sign of the page."""
    return RedirectResponse("/static/sign.svg", 308)
