"""The answer of ``analyser audit`` as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from analyser.phrases import audits as phrases
from analyser.phrases import ropes, sets
from analyser.report.answers import Answer, calibration_fields, colour_fields, head, photo_fields

if TYPE_CHECKING:
    from analyser.audit.comparing import AgainstStock, Between
    from analyser.audit.new_lots import NewLot
    from analyser.audit.on_sheet import RopeSize
    from analyser.audit.ruler import Ruler
    from analyser.audit.verdict import Finding, Piece, RoleColour, Section


def audit_answer(
    pieces: Sequence[Piece],
    between: Sequence[Between],
    options: Mapping[str, Any],
    *,
    new_lots: Sequence[NewLot | None] = (),
    stock: Sequence[Sequence[AgainstStock]] = (),
    faulty: Sequence[Mapping[str, str]] = (),
    report: str | None = None,
) -> Answer:
    """The answer of ``analyser audit``.

    Parameters
    ----------
    pieces : sequence of Piece
    between : sequence of Between
    options : mapping
    new_lots : sequence of NewLot or None, one a piece, or empty
    stock : sequence of sequences of AgainstStock, one a piece, or empty
    faulty : sequence of mappings
        Photos that could not be judged: ``file``, ``kind`` and ``says``.
    report : str, optional
        The page that was written.
    """
    return {
        **head(options),
        "pieces": [
            _piece(
                piece,
                new_lots[place] if place < len(new_lots) else None,
                stock[place] if place < len(stock) else (),
            )
            for place, piece in enumerate(pieces)
        ],
        "unjudged": [
            {"file": piece.photo.file, "box": list(one.box), "says": phrases.unjudged(one)}
            for piece in pieces
            if piece.number == 1
            for one in piece.unjudged
        ],
        "says": sets.of_a_set([piece.verdict for piece in pieces]) if len(pieces) > 1 else "",
        "between": [
            {
                "a": one.a,
                "b": one.b,
                "role": one.role,
                "role_b": one.role_b,
                "de00": one.de00,
                "uncertainty_de00": one.uncertainty_de00,
                "told": one.told,
                "sides": [colour_fields(lab) for lab in (one.lab_a, one.lab_b)],
                "says": sets.between(one),
            }
            for one in between
        ],
        "faulty": [dict(one) for one in faulty],
        "report": report,
    }


def _piece(piece: Piece, lot: NewLot | None, stock: Sequence[AgainstStock]) -> Answer:
    return {
        "number": piece.number,
        "box": list(piece.box),
        "photo": photo_fields(piece.photo),
        "calibration": calibration_fields(piece.calibration, [role.uncertainty_de00 for role in piece.roles]),
        "rope": {
            "centreline": [[float(x), float(y)] for x, y in piece.centreline],
            "width_px": float(piece.width_px),
            "bead_px": float(piece.bead_px),
        },
        "roles": [_role(role) for role in piece.roles],
        "sections": [_section(section) for section in piece.sections],
        "findings": [finding_fields(finding, piece.ruler) for finding in piece.findings],
        "verdict": piece.verdict,
        **plan_fields(piece),
        **(size_fields(piece.size) if piece.size else {}),
        "notes": phrases.notes(piece),
        "new_lot": None if lot is None else new_lot_fields(lot),
        "stock": [
            {
                "role": one.role,
                "bead": one.bead,
                "de00": one.de00,
                "allowance_de00": one.allowance_de00,
                "says": sets.against_stock(one),
            }
            for one in stock
        ],
    }


def plan_fields(piece: Piece) -> Answer:
    """Whether a rope was judged by a plan that was told, and the stretches along it; nothing without any.

    ``beads`` has the role's bead, or the two that a fade goes between; a role that the plan leaves alone is
    not in it.
    """
    if not piece.plan:
        return {}
    look = piece.asked
    asked: Answer = {}
    if look is not None:
        asked = {
            "looks_planned": {
                "kind": look.kind,
                "role": look.role,
                "from": float(look.start),
                "to": float(look.stop),
                "course": phrases.course(look, piece.ruler),
                "says": phrases.looks_planned(look, piece.ruler),
            }
        }
    return {
        "planned": look is None,
        **asked,
        "plan": [
            {
                "stretch": part.stretch + 1,
                "from": float(part.start),
                "to": float(part.stop),
                "beads": {
                    role: list(dict.fromkeys(text for text in (before, part.after[role]) if text is not None))
                    for role, before in part.before.items()
                    if before is not None or part.after[role] is not None
                },
                "says": phrases.plan_part(part),
            }
            for part in piece.plan
        ],
    }


def new_lot_fields(lot: NewLot) -> Answer:
    """Whether a new lot may go on."""
    return {
        "role": lot.role,
        **colour_fields(lot.lab),
        "beside": colour_fields(lot.role_lab),
        "de00": lot.de00,
        "verdict": lot.verdict,
        "says": sets.new_lot(lot),
    }


def size_fields(size: RopeSize) -> Answer:
    """A rope in millimetres, and its gauge; ``gauge`` is None where the motif is not known or not seen."""
    return {
        "length_mm": float(size.length_mm),
        "thickness_mm": float(size.thickness_mm),
        "bead_mm": float(size.bead_mm),
        "size_says": ropes.size(size),
        "gauge": None
        if size.gauge is None
        else {
            "rounds": float(size.gauge.rounds),
            "in_mm": float(size.gauge.in_mm),
            "uncertainty": float(size.gauge.uncertainty),
        },
    }


def _role(role: RoleColour) -> Answer:
    return {
        "role": role.role,
        **({} if role.bead is None else {"bead": role.bead}),
        **colour_fields(role.lab),
        "uncertainty_de00": float(role.uncertainty_de00),
        "share": float(role.share),
        "beads": int(role.beads),
    }


def _section(section: Section) -> Answer:
    return {
        "from": section.start,
        "to": section.stop,
        "roles": {
            name: {"lab": list(role.lab), "de00": role.de00, "grey_scale": role.grey_scale}
            for name, role in section.roles.items()
        },
    }


def finding_fields(finding: Finding, ruler: Ruler) -> Answer:
    """One finding, FINDING of the schema; ``de00`` only where there is one."""
    fields: Answer = {
        "kind": finding.kind,
        "role": finding.role,
        "at": float(finding.at),
        "pixel": [float(finding.pixel[0]), float(finding.pixel[1])],
        "confidence": float(finding.confidence),
        "says": phrases.finding(finding, ruler),
    }
    if finding.de00 is not None:
        fields["de00"] = float(finding.de00)
    return fields
