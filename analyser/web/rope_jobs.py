"""What a worker does with finished ropes and other lists."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from analyser.audit import comparing, new_lots
from analyser.audit import running as audits
from analyser.audit.verdict import Piece
from analyser.drawing.reference_view import photo_view
from analyser.errors import StockError
from analyser.imaging import encoding
from analyser.phrases import sentences
from analyser.phrases import stock_lists as phrases
from analyser.report import audit_answers
from analyser.stock import units
from analyser.stock.list import stock_list
from analyser.web import shown
from analyser.web.job_cache import LIMIT_MP, SHOWN_PX, Kept, card_told, shipped_motif

Tell = Callable[..., None]
Wishes = Mapping[str, Any]

_PIECES = Kept(6)


def pieces_of(path: str, wishes: Wishes) -> list[Piece]:
    """The audit of each rope of a photo, kept."""
    motif, length = wishes.get("motif"), wishes.get("length")
    mm = units.length_mm(length) if length else None
    woven = shipped_motif(motif) if motif else None

    told = card_told(wishes)

    def judge() -> list[Piece]:
        found = audits.audit_ropes(path, motif=woven, length_mm=mm, limit_mp=LIMIT_MP, **told)
        photo = dataclasses.replace(found[0].photo, file=Path(path).name)
        return [dataclasses.replace(piece, photo=photo) for piece in found]

    return _PIECES.get((path, mm, motif, *told.values()), judge)


def audit(tell: Tell, path: str, wishes: Wishes) -> dict[str, Any]:
    """Job of ``analyser audit`` for one photo."""
    tell("following the rope and its beads")
    answer = audit_answers.audit_answer(pieces_of(path, wishes), [], dict(wishes))
    return {"answer": answer, "shown": shown.dressed(answer)}


def compare(tell: Tell, paths: list[str], wishes: Wishes) -> dict[str, Any]:
    """Several audited ropes against each other."""
    pieces = [piece for path in paths for piece in pieces_of(path, wishes)]
    answer = audit_answers.audit_answer(pieces, comparing.between(pieces), dict(wishes))
    return {"answer": answer, "shown": shown.dressed(answer)}


def rope_photo(tell: Tell, path: str, wishes: Wishes) -> bytes:
    """The audited photo as a JPEG."""
    piece = pieces_of(path, wishes)[0]
    return encoding.jpeg_bytes(photo_view(piece.photo, piece.calibration, SHOWN_PX), 86)


def audit_report(tell: Tell, paths: list[str], wishes: Wishes) -> str:
    """The one-page report of ``analyser audit``."""
    from analyser.report import audit_page

    pieces = [piece for path in paths for piece in pieces_of(path, wishes)]
    return audit_page.page(pieces, comparing.between(pieces))


def new_lot(
    tell: Tell, path: str, wishes: Wishes, heap: tuple[float, float], old: tuple[float, float] | None
) -> dict[str, Any]:
    """Whether beads of a heap that was touched may go on, against the rope or another heap."""
    pieces = pieces_of(path, wishes)
    piece = min(pieces, key=lambda one: float(np.hypot(*(one.centreline - heap).T).min()))
    box = new_lots.heap_at(piece, *heap)
    lot = new_lots.new_lot(piece, box, None if old is None else new_lots.heap_at(piece, *old))
    told = audit_answers.new_lot_fields(lot)
    shown.add_css(told)
    return {**told, "number": piece.number, "sentence": sentences.capital(told["says"])}


def check_list(tell: Tell, path: str) -> dict[str, Any]:
    """Read an uploaded stock list: the beads that can be used, and how it was read."""
    held = stock_list.read(path)
    if not held.beads:
        first = held.left_out[0] if held.left_out else "it has no rows"
        raise StockError(f"{Path(path).name}: {first}; nothing was brought in")
    return {"beads": list(held.beads), "says": phrases.rows_used(held)}
