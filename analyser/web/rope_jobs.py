"""What a worker does with finished ropes, tray photos and other lists."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from analyser.audit import comparing
from analyser.audit import running as audits
from analyser.audit.verdict import Piece
from analyser.drawing.reference_view import photo_view
from analyser.errors import OptionError, StockError
from analyser.imaging import encoding
from analyser.photo import reading
from analyser.photo.calibration import calibrate
from analyser.report import audit_answers, trays
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.list import stock_list
from analyser.tray import measuring, naming
from analyser.tray.measuring import Tray
from analyser.tray.naming import PileName
from analyser.web import shown
from analyser.web.job_cache import LIMIT_MP, SHOWN_PX, Kept, card_told, shipped_motif

Tell = Callable[..., None]
Wishes = Mapping[str, Any]

_PIECES = Kept(6)
_TRAYS = Kept(2)


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


def tray_of(path: str, wishes: Wishes) -> Tray:
    """The piles of a photo, kept."""
    told = card_told(wishes)

    def read() -> Tray:
        photo = reading.read(path, about_pixels=measuring.READ_PIXELS, limit_mp=LIMIT_MP)
        return measuring.measure(dataclasses.replace(photo, file=Path(path).name), calibrate(photo, **told))

    return _TRAYS.get((path, *told.values()), read)


def tray(tell: Tell, path: str, wishes: Wishes) -> dict[str, Any]:
    """Job of ``analyser stock add`` without a list: the piles of a tray photo."""
    tell("finding the piles")
    answer = trays.stock_add_answer(tray_of(path, wishes), {}, None, None)
    return {"answer": answer, "shown": shown.dressed(answer)}


def tray_photo(tell: Tell, path: str, wishes: Wishes) -> bytes:
    """The calibrated tray photo as a JPEG."""
    found = tray_of(path, wishes)
    return encoding.jpeg_bytes(photo_view(found.photo, found.calibration, SHOWN_PX), 86)


def named_piles(tell: Tell, path: str, wishes: Wishes, size: str, piles: list[dict[str, Any]]) -> list[Bead]:
    """Piles of a tray photo as beads for the list, under the maker's names."""
    found = tray_of(path, wishes)
    names: list[PileName | None] = [None] * len(found.piles)
    for pile in piles:
        if pile["number"] > len(names):
            raise OptionError(f"there is no pile {pile['number']}; the photo shows {len(names)}")
        words = {part: " ".join(pile[part].split()) for part in ("id", "name", "lot")}
        if not words["id"]:
            raise OptionError(f"pile {pile['number']} has no id; give it one or leave it out")
        names[pile["number"] - 1] = PileName(words["id"], words["name"] or words["id"], words["lot"])
    return list(naming.as_beads(found, names, units.size(size)))


def check_list(tell: Tell, path: str) -> dict[str, Any]:
    """Read an uploaded stock list; its beads, or its first faults."""
    faults = stock_list.check(path)
    if faults:
        more = f" and {len(faults) - 1} more" if len(faults) > 1 else ""
        raise StockError(f"{Path(path).name}: {faults[0]}{more}; nothing was brought in")
    return {"beads": list(stock_list.read(path).beads)}
