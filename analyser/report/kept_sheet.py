"""Kept colourways as a page of its own, to print or to send: one, or several side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyser.arrays import Lab
from analyser.drawing import rope_view
from analyser.drawing.rope_view import BeadLook
from analyser.drawing.solids import Solid
from analyser.errors import OptionError
from analyser.motif.motif import Motif
from analyser.motif.plan import role_of_key
from analyser.motif.planned_rope import lay
from analyser.piece import counting, kept_pieces, plan_file
from analyser.piece import kept as kept_files
from analyser.piece.gauge import Gauge
from analyser.piece.kept import KeptBead, KeptColourway, KeptError
from analyser.piece.piece_cards import CAUTION, needle_for, thread_for
from analyser.piece.planned_count import rise_of
from analyser.report import embedding, html
from analyser.report.pair_view import Chip, chip_of
from analyser.report.previews import BRACELET_MM, Piles, RopePictures, Ropes, planned_pictures
from analyser.stock.kinds import kind_of

_LETTERS = {"accent": "A", "body": "B", "third": "C", "end": "E"}
_STATES = {"idea": "an idea", "woven": "woven", "sold": "sold"}
_IN_WORDS = {2: "Two", 3: "Three", 4: "Four", 5: "Five", 6: "Six"}


@dataclass(frozen=True, slots=True)
class KeptShown:
    """What is shown of one.

    Attributes
    ----------
    kept : KeptColourway
    motif : Motif or None
        None where its file is not there any more: it is then not drawn.
    picture : bytes or None
        The small picture of its photo.
    """

    kept: KeptColourway
    motif: Motif | None
    picture: bytes | None


def shown_of(path: Path, kept: KeptColourway) -> KeptShown:
    """What is shown of the colourway of a file: with its motif and its picture, as far as they are there."""
    try:
        motif = kept_pieces.motif_of(kept, path.parent)
    except KeptError:
        motif = None
    return KeptShown(kept, motif, kept_files.picture_of(path))


@dataclass(frozen=True, slots=True)
class _Bead:
    letter: str
    role: str
    bead: KeptBead
    chip: Chip


@dataclass(frozen=True, slots=True)
class _One:
    kept: KeptColourway
    state: str
    title: str
    about: str
    beads: tuple[_Bead, ...]
    palette: tuple[Chip, ...]
    ropes: RopePictures | None
    photo: str
    thread: str


def kept_page(shown: Sequence[KeptShown]) -> str:
    """The page of one or several kept colourways; several stand side by side.

    Parameters
    ----------
    shown : sequence of KeptShown
        At least one.
    """
    piles = Piles()
    ones = [_one(each, piles) for each in shown]
    several = len(ones) > 1
    title = (
        f"{_IN_WORDS.get(len(ones), str(len(ones)))} colourways side by side"
        if several
        else ones[0].kept.name
    )
    context: dict[str, Any] = {"title": title, "ones": ones, "several": several, "caution": CAUTION}
    return html.render("kept.html", {**context, "pile_css": piles.css()})


def _one(shown: KeptShown, piles: Piles) -> _One:
    kept, motif = shown.kept, shown.motif
    beads = tuple(
        _Bead(
            _LETTERS.get(role_of_key(role), role_of_key(role)),
            role_of_key(role),
            bead,
            chip_of(bead.lab, bead.name, piles, bead.finish),
        )
        for role, bead in kept.beads.items()
    )
    length = f"{kept.length_mm / 10:.4g} cm with clasp" if kept.length_mm is not None else ""
    size = kept.size if kept.shape == "round" or kept.size.endswith("mm") else f"{kept.size} {kept.shape}"
    woven = motif.title if motif else kept.motif
    return _One(
        kept,
        _STATES[kept.state],
        woven,
        ", ".join(part for part in (woven, f"{size} beads", length, kept.gauge) if part),
        beads,
        tuple(chip_of(colour.lab, colour.name, piles) for colour in kept.palette),
        None if motif is None else _ropes(kept, motif),
        embedding.data_uri(shown.picture) if shown.picture else "",
        _thread(kept, motif),
    )


def _ropes(kept: KeptColourway, motif: Motif) -> RopePictures:
    looks, solids = looks_of({role: (bead.lab, bead) for role, bead in kept.beads.items()}, motif)
    count = _count(kept, motif)
    if kept.plan is not None:
        return _along(kept, motif, count or counting.count(motif, length_mm=BRACELET_MM), looks, solids)
    return Ropes(motif, rounds=count.rounds if count else None).pictures(looks, solids)


def _along(
    kept: KeptColourway,
    motif: Motif,
    count: counting.BeadCount,
    looks: Mapping[str, BeadLook],
    solids: Mapping[str, Solid],
) -> RopePictures:
    """A colourway along a plan: its whole rope, straight and as a ring."""
    plan = plan_file.parse(str(kept.plan), kept.name)
    first = {key: role for role, key in kept_pieces.first_keys(kept).items()}
    rope = lay(plan, motif, count.rounds, rise_of(count))
    every = {bead.key: first.get(bead.key, bead.key) for bead in rope.kinds}
    blank = looks.get("body", rope_view.NOT_CHOSEN)
    drawn = planned_pictures(
        rope,
        {**looks, **{key: looks.get(role, blank) for key, role in every.items()}},
        {**solids, **{key: solids.get(role, solids["body"]) for key, role in every.items()}},
        count.end_bead_mm,
    )
    return RopePictures(drawn.straight, drawn.ring, ())


def looks_of(
    beads: Mapping[str, tuple[Lab, Any]], motif: Motif
) -> tuple[dict[str, BeadLook], dict[str, Solid]]:
    """How each role's bead looks, and its solid.

    End beads that are not chosen have the body's colour; a letter that no bead was chosen for is a blank.

    Parameters
    ----------
    beads : mapping of role to (Lab, bead)
        A bead has ``shape``, ``size`` and ``finish``.
    motif : Motif
    """
    looks = {role: BeadLook(lab, bead.finish) for role, (lab, bead) in beads.items()}
    solids = {
        role: rope_view.bead_solid(bead.shape or "round", bead.size or "11/0")
        for role, (_, bead) in beads.items()
    }
    for role in motif.roles:
        looks.setdefault(role, rope_view.NOT_CHOSEN)
    looks.setdefault("end", looks.get("body", rope_view.NOT_CHOSEN))
    looks.setdefault(rope_view.METAL, rope_view.SILVER_TONE)
    return looks, solids


def _count(kept: KeptColourway, motif: Motif) -> counting.BeadCount | None:
    if kept.length_mm is None:
        return None
    try:
        return counting.count(
            motif,
            length_mm=kept.length_mm,
            kinds=dict.fromkeys(motif.roles, kind_of(kept.size, kept.shape)),
            gauge=Gauge.parse(kept.gauge) if kept.gauge else None,
        )
    except OptionError:  # a file that was edited may ask for no piece: it is shown all the same
        return None


def _thread(kept: KeptColourway, motif: Motif | None) -> str:
    count = None if motif is None else _count(kept, motif)
    if count is None:
        return ""
    width = [kind.diameter_mm for kind in count.kinds.values()]
    return f"{count.thread.total_m:.1f} m of {thread_for(max(width))}; needle {needle_for(min(width))}"
