"""The audit as one page: verdict, annotated photo, each finding close up, the strip, drift, comparisons.

The page shows what the audit says and decides no number. Only pixels of the photos go in, no metadata.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from analyser.arrays import Lab
from analyser.audit.comparing import AgainstStock, Between
from analyser.audit.new_lots import OLD_LOT, NewLot
from analyser.audit.verdict import Finding, Kind, Piece
from analyser.colour.names import everyday_name
from analyser.drawing import annotated, strip
from analyser.files import write_whole
from analyser.imaging import encoding
from analyser.phrases import audits as phrases
from analyser.phrases import figures, photos, ropes, sentences, sets
from analyser.report import embedding, html

#: What the two patches of a finding are, left and right.
SIDES = {"lot-change": ("before", "after"), "stray-bead": ("wanted", "found")}

TOLERANCE_DE00 = 1.0
"""Height of the plot's band: about what two fields side by side just show (common practice, no source)."""

FILE_NAME = "audit.html"


def write(
    folder: Path,
    pieces: Sequence[Piece],
    between: Sequence[Between],
    *,
    new_lots: Sequence[NewLot | None] = (),
    stock: Sequence[Sequence[AgainstStock]] = (),
) -> Path:
    """Write ``audit.html`` into a folder, whole or not at all; the folder is made if it is not there.

    Raises
    ------
    OptionError
        If it cannot be written there.
    """
    path = folder / FILE_NAME
    write_whole(path, page(pieces, between, new_lots=new_lots, stock=stock), make_folders=True)
    return path


def page(
    pieces: Sequence[Piece],
    between: Sequence[Between],
    *,
    new_lots: Sequence[NewLot | None] = (),
    stock: Sequence[Sequence[AgainstStock]] = (),
) -> str:
    """The page's HTML, pictures and all."""
    shown = [
        _piece(
            number,
            piece,
            new_lots[number - 1] if number <= len(new_lots) else None,
            stock[number - 1] if number <= len(stock) else (),
        )
        for number, piece in enumerate(pieces, start=1)
    ]
    title = _verdict(pieces[0]) if len(pieces) == 1 else f"{len(pieces)} ropes, end to end"
    context = {
        "title": title,
        "pieces": shown,
        "between": [
            {
                "a": one.a + 1,
                "b": one.b + 1,
                "says": sentences.capital(sets.between(one)),
                "sides": [_side(f"{one.a + 1}", one.lab_a), _side(f"{one.b + 1}", one.lab_b)],
            }
            for one in between
        ],
        "set_says": sentences.capital(sets.of_a_set([piece.verdict for piece in pieces])),
    }
    return html.render("audit.html", context)


def _verdict(piece: Piece) -> str:
    kinds = {finding.kind for finding in piece.findings}
    return phrases.verdict(piece.verdict, kinds, asked=piece.asked is not None)


def _piece(number: int, piece: Piece, lot: NewLot | None, stock: Sequence[AgainstStock]) -> dict[str, Any]:
    photo = annotated.annotated_photo(piece)
    unrolled = strip.strip_picture(piece)
    return {
        "number": number,
        "file": Path(piece.photo.file).name + (f", rope {piece.number}" if piece.of > 1 else ""),
        "verdict": _verdict(piece),
        "lead": _lead(piece),
        "photo": _picture(encoding.jpeg_bytes(photo), photo.shape),
        "strip": _picture(encoding.jpeg_bytes(unrolled), unrolled.shape),
        "drift": strip.drift_svg(piece, TOLERANCE_DE00),
        "findings": [
            _finding(place, piece, finding) for place, finding in enumerate(piece.findings, start=1)
        ],
        "roles": [
            {
                "role": role.role if role.bead is None else f"{role.role}, {role.bead}",
                "name": everyday_name(role.lab),
                "style": embedding.css_declarations(role.lab),
                "hex": embedding.css_colours(role.lab)[0],
                "lab": ", ".join(f"{value:.1f}" for value in role.lab),
                "share": figures.percent(role.share),
                "beads": role.beads,
                "doubt": figures.difference(role.uncertainty_de00),
            }
            for role in piece.roles
        ],
        "sections": _sections(piece),
        "section_roles": list(dict.fromkeys(role.role for role in piece.roles)),
        "plan": [
            {
                "from": f"{100 * part.start:.0f}",
                "to": f"{100 * part.stop:.0f} %",
                "says": phrases.plan_part(part),
            }
            for part in piece.plan
        ],
        "method": piece.calibration.method,
        "size": ropes.size(piece.size) if piece.size else None,
        "notes": [
            *piece.photo.notes,
            *photos.question(piece.calibration),
            *piece.calibration.notes,
            *phrases.notes(piece),
        ],
        "new_lot": None if lot is None else _new_lot(lot),
        "stock": [sets.against_stock(one) for one in stock],
    }


def _picture(encoded: bytes, shape: tuple[int, ...]) -> dict[str, Any]:
    return {"uri": embedding.data_uri(encoded), "width": shape[1], "height": shape[0]}


def _lead(piece: Piece) -> str:
    if not piece.findings:
        return "No change of lot, no stray bead and no plain round was found."
    counts: dict[Kind, int] = {}
    for finding in piece.findings:
        counts[finding.kind] = counts.get(finding.kind, 0) + 1
    words = [f"{count} × {phrases.KINDS[kind].lower()}" for kind, count in counts.items()]
    return f"Found: {', '.join(words)}. The numbers in the pictures are those of the list."


def _finding(number: int, piece: Piece, finding: Finding) -> dict[str, Any]:
    view = annotated.close_view(piece, finding)
    says = phrases.finding(finding, piece.ruler)
    sides = None
    if finding.sides is not None:
        names = SIDES.get(finding.kind, ("", ""))
        sides = [_side(says, lab) for says, lab in zip(names, finding.sides, strict=True)]
    return {
        "number": number,
        "kind": phrases.KINDS[finding.kind],
        "says": sentences.capital(says),
        "view": _picture(encoding.jpeg_bytes(view), view.shape),
        "sides": sides,
        "de00": None if finding.de00 is None else f"{finding.de00:.1f}",
        "sure": phrases.sure(finding.confidence),
    }


def _side(says: str, lab: Lab) -> dict[str, str]:
    return {"says": says, "style": embedding.css_declarations(lab), "hex": embedding.css_colours(lab)[0]}


def _sections(piece: Piece) -> list[dict[str, Any]]:
    rows = []
    for section in piece.sections:
        cells = []
        for role in dict.fromkeys(role.role for role in piece.roles):
            here = section.roles.get(role)
            cells.append(
                None
                if here is None
                else {"de00": figures.difference(here.de00), "grade": f"{here.grey_scale:g}"}
            )
        rows.append({"from": f"{100 * section.start:.0f}", "to": f"{100 * section.stop:.0f}", "cells": cells})
    return rows


def _new_lot(lot: NewLot) -> dict[str, Any]:
    return {
        "says": sentences.capital(sets.new_lot(lot)),
        "verdict": lot.verdict,
        "sides": [
            _side(lot.role if lot.role == OLD_LOT else f"the rope's {lot.role}", lot.role_lab),
            _side("the new lot", lot.lab),
        ],
    }
