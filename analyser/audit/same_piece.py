"""One rope in two photos, the second turned by 90 degrees: what the angle made and what is the rope's own.

Metal and films change with the angle, so their lots and odd beads are told by one photo with a doubt. What
both photos show at the same place is there; what only one shows in a role that hangs on the angle is the
angle's. Other roles' findings stand as they are, surer where both photos show them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from analyser.audit.verdict import Finding, LotChanged, Piece, Tolerances, Verdict
from analyser.errors import OptionError

NEAR = 0.05
"""Share of the length within which two photos' findings are at the same place; places of lot changes on
rendered ropes were told within 0.03."""


def same_piece(pieces: Sequence[Piece], limits: Tolerances | None = None) -> list[Piece]:
    """The pieces of two photos of one rope, each judged with what the other shows.

    Parameters
    ----------
    pieces : sequence of Piece
        Two, one from each photo.
    limits : Tolerances, optional
        Those the pieces were judged with.

    Returns
    -------
    list of Piece
        In their order.

    Raises
    ------
    OptionError
        If they are not two pieces of two photos.
    """
    if len(pieces) != 2 or pieces[0].photo.sha256 == pieces[1].photo.sha256:
        raise OptionError("that takes two photos of one rope, each with that rope alone in it")
    one, other = pieces
    # Turned by 90 degrees its ends may have changed places: as more findings agree.
    turned = _agreeing(one, other, turned=True) > _agreeing(one, other, turned=False)
    limits = limits or Tolerances()
    return [_with(one, other, limits, turned=turned), _with(other, one, limits, turned=turned)]


def _agreeing(one: Piece, other: Piece, *, turned: bool) -> int:
    return sum(_twin(finding, other, turned=turned) is not None for finding in one.findings)


def _twin(finding: Finding, other: Piece, *, turned: bool) -> Finding | None:
    """The other photo's finding of the same kind, role and place, or None."""
    at = 1 - finding.at if turned else finding.at
    alike = [
        one
        for one in other.findings
        if one.kind == finding.kind and one.role == finding.role and abs(one.at - at) <= NEAR
    ]
    return min(alike, key=lambda one: abs(one.at - at)) if alike else None


def _with(piece: Piece, other: Piece, limits: Tolerances, *, turned: bool) -> Piece:
    angled = piece.angled | other.angled
    kept: list[Finding] = []
    dropped = 0
    for finding in piece.findings:
        twin = _twin(finding, other, turned=turned)
        if twin is None and finding.role in angled and finding.kind in ("lot-change", "stray-bead"):
            dropped += 1
            continue
        kept.append(finding if twin is None else _confirmed(finding, twin))
    notes = [note for note in piece.notes if "second photo" not in note]
    if dropped:
        notes.append(
            f"{dropped} of this photo's findings, in a colour that hangs on the angle, "
            "did not show in the other photo and were left out"
        )
    clear = any(
        (one.kind == "lot-change" and (one.de00 or 0) >= limits.uneven_de00)
        or one.kind in ("stray-bead", "plain-round", "plan-off")
        for one in kept
    )
    small = any(one.kind == "lot-change" for one in kept)
    # Called so for another reason than a change: light, focus, a plan that could not be read.
    unjudged = piece.verdict == "check" and not any(one.kind == "lot-change" for one in piece.findings)
    unjudged |= bool(piece.unseen or piece.unjudged)
    verdict: Verdict = "uneven" if clear else "check" if small or unjudged else "even"
    return replace(piece, findings=tuple(kept), notes=tuple(notes), verdict=verdict)


def _confirmed(finding: Finding, twin: Finding) -> Finding:
    """A finding that both photos show: no longer the angle's, and missed by both at once or not at all."""
    about = finding.about
    if isinstance(about, LotChanged):
        about = LotChanged(about.de00)
    sure = 1 - (1 - finding.confidence) * (1 - twin.confidence)
    return replace(finding, about=about, confidence=sure)
