"""What a worker does with finished ropes and other lists."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from analyser.audit import comparing, new_lots
from analyser.audit import running as audits
from analyser.audit import same_piece as one_rope
from analyser.audit.comparing import AgainstStock
from analyser.audit.told_plan import told_plan
from analyser.audit.verdict import Piece, Tolerances
from analyser.drawing.reference_view import photo_view
from analyser.errors import OptionError, StockError
from analyser.imaging import encoding
from analyser.phrases import audits as audits_said
from analyser.phrases import sentences
from analyser.phrases import stock_lists as phrases
from analyser.piece import plan_file
from analyser.piece.request import further_letters
from analyser.report import audit_answers
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.list import stock_list
from analyser.web import piece_jobs, shown
from analyser.web.job_cache import LIMIT_MP, SHOWN_PX, Kept, card_told, known_motif, light_key

Tell = Callable[..., None]
Wishes = Mapping[str, Any]

_PIECES = Kept(6)


def pieces_of(path: str, wishes: Wishes) -> list[Piece]:
    """The audit of each rope of a photo, kept."""
    motif, length, worked_to = (wishes.get(name) for name in ("motif", "length", "worked_to"))
    mm = units.length_mm(length) if length else None
    woven = known_motif(motif, wishes["stock_file"]) if motif else None
    told = card_told(wishes)
    text, planned = wishes.get("plan"), bool(wishes.get("planned"))
    limits = limits_of(wishes)
    plan = told_plan(plan_file.parse(text, "the plan"), motif=woven) if text else None

    def judge() -> list[Piece]:
        found = audits.audit_ropes(
            path,
            limits=limits,
            motif=woven,
            length_mm=mm,
            worked_to=worked_to,
            limit_mp=LIMIT_MP,
            plan=plan,
            planned=planned,
            **told,
        )
        photo = dataclasses.replace(found[0].photo, file=Path(path).name)
        return [dataclasses.replace(piece, photo=photo) for piece in found]

    return _PIECES.get((path, mm, woven, worked_to, text, planned, limits, *light_key(wishes)), judge)


def limits_of(wishes: Wishes) -> Tolerances:
    """From where a difference counts."""
    said = {"lot_de00": wishes.get("lot_tolerance"), "uneven_de00": wishes.get("uneven_from")}
    return Tolerances(**{name: float(value) for name, value in said.items() if value is not None})


def audit(tell: Tell, path: str, wishes: Wishes) -> dict[str, Any]:
    """Job of ``analyser audit`` for one photo."""
    tell("following the rope and its beads")
    pieces = pieces_of(path, wishes)
    against = _against(pieces, wishes)
    answer = audit_answers.audit_answer(pieces, [], _told(wishes), stock=against)
    for fields, found in zip(answer["pieces"], against, strict=False):
        told = {one.role for one in found}
        fields["notes"] += [
            audits_said.not_told_apart(role, bead.name)
            for role, bead in _intended(wishes).items()
            if bead.lab is not None and role not in told
        ]
    return {"answer": answer, "shown": shown.dressed(answer)}


def _told(wishes: Wishes) -> dict[str, Any]:
    """The wishes as the answer tells them: nothing of this machine's folders."""
    return {name: value for name, value in wishes.items() if name != "stock_file"}


def _against(pieces: Sequence[Piece], wishes: Wishes) -> list[list[AgainstStock]]:
    """Each role of each piece against the bead it was to be woven of, where both have a colour."""
    beads = _intended(wishes)
    if not beads:
        return []
    return [
        [
            found
            for role, bead in beads.items()
            if bead.lab is not None
            and (
                found := comparing.against_stock(
                    piece, role, bead.name, bead.lab, bead.uncertainty_de00 or 0.0
                )
            )
        ]
        for piece in pieces
    ]


def _intended(wishes: Wishes) -> dict[str, Bead]:
    """The beads that a rope was to be woven of, by role."""
    named = {role: text for role in ("accent", "body", "third") if (text := wishes.get(role))}
    named |= further_letters(wishes.get("role"))
    if not named:
        return {}
    held = piece_jobs.stock(wishes["stock_file"])
    return {role: held.find(text) for role, text in named.items()}


def _chosen(ropes: Sequence[Mapping[str, Any]], *, same_piece: bool) -> list[Piece]:
    """The ropes that were ticked, each judged by its own photo's wishes; one rope in two photos by both."""
    chosen = []
    for rope in ropes:
        pieces, number = pieces_of(rope["path"], rope["wishes"]), rope["number"]
        found = [piece for piece in pieces if number in (None, piece.number)]
        if not found:
            raise OptionError(f"{pieces[0].photo.file}: there is no rope {number}; it shows {len(pieces)}")
        chosen += found
    return one_rope.same_piece(chosen, limits_of(ropes[0]["wishes"])) if same_piece else chosen


def compare(tell: Tell, ropes: list[dict[str, Any]], same_piece: bool) -> dict[str, Any]:
    """Several audited ropes against each other."""
    pieces = _chosen(ropes, same_piece=same_piece)
    answer = audit_answers.audit_answer(pieces, comparing.between(pieces), _told(ropes[0]["wishes"]))
    return {"answer": answer, "shown": shown.dressed(answer)}


def rope_photo(tell: Tell, path: str, wishes: Wishes) -> bytes:
    """The audited photo as a JPEG."""
    piece = pieces_of(path, wishes)[0]
    return encoding.jpeg_bytes(photo_view(piece.photo, piece.calibration, SHOWN_PX), 86)


def audit_report(tell: Tell, ropes: list[dict[str, Any]], same_piece: bool) -> str:
    """The one-page report of ``analyser audit``."""
    from analyser.report import audit_page

    pieces = _chosen(ropes, same_piece=same_piece)
    against = _against(pieces, ropes[0]["wishes"])
    return audit_page.page(pieces, comparing.between(pieces), stock=against)


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
