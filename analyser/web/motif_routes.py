"""The maker's own motifs: written in the page, drawn while they are written, saved beside the list."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request

from analyser.errors import MotifError
from analyser.motif import own_motifs, parsing
from analyser.web.common import done, state_of
from analyser.web.photo_store import UnknownError
from analyser.web.wishes import MotifSaved, MotifText

router = APIRouter(prefix="/api/motifs", tags=["motifs"])


def _folder(request: Request) -> Path:
    return own_motifs.folder_of(state_of(request).stock_file)


@router.get("")
def list_motifs(request: Request) -> dict[str, Any]:
    """The names of the shipped motifs and of the maker's own."""
    folder = _folder(request)
    return {"shipped": list(parsing.names()), "own": list(own_motifs.names(folder)), "folder": folder.name}


@router.get("/{name}")
def one_motif(request: Request, name: str) -> dict[str, Any]:
    """The text of a motif's file."""
    folder = _folder(request)
    try:
        return {"name": name, "own": name not in parsing.names(), "text": own_motifs.text_of(name, folder)}
    except MotifError as error:
        raise UnknownError(str(error)) from error


@router.post("/drawn")
async def draw(request: Request, motif: MotifText) -> dict[str, Any]:
    """What a text weaves, drawn; or its first fault, with the line."""
    job = state_of(request).pool.submit("motif_drawn", {"text": motif.text}, urgent=True)
    answer: dict[str, Any] = await done(job)
    return answer


@router.post("", status_code=201)
def save(request: Request, motif: MotifSaved) -> dict[str, Any]:
    """Lay a motif beside the list; one that is there is replaced on purpose only, and goes to the bin."""
    folder = _folder(request)
    saved = own_motifs.save(folder, motif.text, replace=motif.replace)
    return {"name": saved.name, "file": f"{folder.name}/{saved.name}.toml"}
