"""Is this rope even from end to end? One calibrated photo in, its audit out."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyser.arrays import FloatArray
from analyser.audit import lot_changes
from analyser.audit.looks_planned import LooksPlanned, looks_planned
from analyser.audit.lot_changes import LotChange, Series
from analyser.audit.odd_beads import odd_beads
from analyser.audit.on_sheet import rope_size
from analyser.audit.plan_faults import seen_kept
from analyser.audit.planned import Course, read_course
from analyser.audit.planned_findings import (
    in_shared_light,
    odd_findings,
    own_changes,
    plan_findings,
    sure_strays,
)
from analyser.audit.ruler import Ruler
from analyser.audit.slack import Slack, slack_stretches
from analyser.audit.strays import Stray
from analyser.audit.told_plan import ToldPlan
from analyser.audit.verdict import (
    Drift,
    Finding,
    LotChanged,
    Piece,
    PlainRound,
    RoleColour,
    Section,
    SectionRole,
    SlackStretch,
    StrayBead,
    Tolerances,
    Verdict,
)
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.motif.plan import PlannedBead, role_and_bead
from analyser.photo.calibration import Calibration
from analyser.photo.even_sky import bead_lab
from analyser.photo.reading import Photo
from analyser.rope import colours
from analyser.rope.close_roles import told_by_repeats
from analyser.rope.colours import RoleLook
from analyser.rope.locating import Rope, locate
from analyser.rope.motif_steps import MotifSteps
from analyser.rope.placing import Placed, place
from analyser.rope.refining import refined, unrefined
from analyser.rope.rise import rise_along
from analyser.rope.seeing import Unseen, unseen
from analyser.rope.sheen import sheens
from analyser.rope.unrolling import unroll

SECTIONS = 10

NEAR_UNSEEN = 0.1
"""Share of the length within which a lot change and the edge of what is seen poorly are one: a drawn rope's
colours changed where its blur began, 0.08 before it was so soft that beads melt."""

FEWEST_STRANGE = 3
"""Stray beads from which a course that looks planned is looked for."""


def audit(
    photo: Photo,
    calibration: Calibration,
    *,
    tolerances: Tolerances | None = None,
    ruler: Ruler | None = None,
    motif: MotifSteps | None = None,
    rope: Rope | None = None,
    plan: ToldPlan | None = None,
    planned: bool = False,
) -> Piece:
    """Judge the rope of one photo.

    Parameters
    ----------
    photo : Photo
        Already corrected by ``calibration``.
    calibration : Calibration
        Its uncertainty goes into that of each role.
    tolerances : Tolerances, optional
    ruler : Ruler, optional
        How long the rope is and how many rounds, where known, for the sentences.
    motif : MotifSteps, optional
        Of the motif that was woven, where known.
    rope : Rope, optional
        Where it lies in the photo's array, where that is known already.
    plan : ToldPlan, optional
        Its course of colours, where it has one.
    planned : bool
        Without a plan: a course that looks planned was planned.

    Returns
    -------
    Piece

    Raises
    ------
    PhotoError
        If there is no rope, or it is too small, out of focus or too dark to judge.
    """
    limits = tolerances or Tolerances()
    ground = calibration.cleared(photo)
    placed = place(unroll(ground, rope or locate(ground)), photo.file)
    if len(placed.model.means) == 1:
        placed = told_by_repeats(placed) or placed
    piece = judge(placed, photo, calibration, limits, ruler or Ruler(), motif, plan)
    if plan is None and (guess := _guessed(piece, placed)) is not None:
        look, course, placed = guess
        by_course = judge(placed, photo, calibration, limits, ruler or Ruler(), motif, course)
        if by_course.plan:
            if planned:
                return by_course
            word: Verdict = "check" if by_course.verdict == "even" else by_course.verdict
            return replace(by_course, asked=look, verdict=word)
    return piece


def _guessed(piece: Piece, placed: Placed) -> tuple[LooksPlanned, ToldPlan, Placed] | None:
    """A course that looks planned; not looked for on a rope of two colours on which little was found."""
    strange = [found for found in piece.findings if found.kind != "slack"]
    changes = any(found.kind == "lot-change" for found in strange)
    third = len(placed.model.means) > 2
    return looks_planned(placed) if changes or third or len(strange) >= FEWEST_STRANGE else None


def judge(
    placed: Placed,
    photo: Photo,
    calibration: Calibration,
    limits: Tolerances,
    ruler: Ruler,
    motif: MotifSteps | None = None,
    plan: ToldPlan | None = None,
) -> Piece:
    """The audit of a rope whose beads are placed."""
    ruler = ruler.laid(placed, photo)
    course = None if plan is None else read_course(placed, plan, ruler, photo.linear.shape[:2], motif)
    told = (
        unrefined(course.roles, motif)
        if course is not None
        else unrefined(placed, motif)
        if placed.averaged
        else refined(placed, motif)
    )
    placed, expected = told.placed, told.expected
    strip, shine = placed.strip, sheens(placed)
    # Metal mirrors light and dark, but no other hues.
    wide = {role for role in told.wide if shine[role].kind != "metallic"}
    coloured = told.coloured({role for role, sheen in shine.items() if sheen.kind == "iridescent"})
    looks = colours.role_looks(placed, coloured) if course is None else course.role_looks
    beads = odd_beads(told, looks, wide, limits.stray, planned=course is not None)
    if course is not None:
        beads = replace(beads, single=sure_strays(course, beads.single))
    names = {look.index: look.name for look in looks}
    findings = [_stray_finding(stray, placed, looks, names) for stray in beads.single]
    findings += [_round_finding(stray, placed, names) for stray in beads.rounds]
    slack = slack_stretches(rise_along(expected))
    # What a plan wants may be a border or a bead that looks strange without it.
    lost = plan is not None and course is None
    findings = [] if lost else findings
    findings += [_slack_finding(stretch, placed, looks[0].name) for stretch in slack]
    if course is not None:
        if plan is not None and not plan.guessed:
            findings += [*plan_findings(course), *odd_findings(course, beads.odd)]
        # From here on a role's beads are apart, each with its own course along the rope.
        placed, coloured, looks = course.beads, course.beads, course.looks
        shine = sheens(placed)
    series = lot_changes.series_of(coloured, looks, beads.odd)
    series, changes, notes = _changes(series, limits, course)
    along = strip.fraction(np.arange(strip.start, strip.stop))
    poor = unseen(strip, placed.bead, None if course is None else course.own_light(along))
    changes = [change for change in changes if not _where_sight_ends(change, poor)]
    names = {look.index: look.name for look in looks}
    angled: dict[str, str] = {names[k]: sheen.kind for k, sheen in shine.items() if sheen.kind != "plain"}
    changes = [] if lost else changes
    findings += [_lot_finding(change, placed, angled.get(change.role, "plain")) for change in changes]
    findings.sort(key=lambda finding: finding.at)
    sides = {look.name: _side(look, coloured, changes) for look in looks}
    evened = lot_changes.divide_out_light(series, changes, sides)
    roles = tuple(
        replace(
            _role_colour(look, coloured, sides[look.name], calibration), sheen=angled.get(look.name, "plain")
        )
        for look in looks
    )
    middle = (
        strip.centreline[strip.start : strip.stop : max(1, (strip.stop - strip.start) // 200)] * strip.scale
    )
    sheet = None if calibration.ground is None else calibration.ground.sheet
    return Piece(
        photo,
        calibration,
        placed,
        middle,
        2 * strip.radius * strip.scale,
        placed.bead * strip.scale,
        roles,
        _sections(series, evened, roles),
        tuple(findings),
        _drifts(series, evened, roles),
        _verdict(
            findings,
            limits,
            {role_and_bead(key)[0] for key in angled},
            poor,
            unread=bool(plan) and (course is None or not seen_kept(course.laid)),
        ),
        ruler,
        (*notes, *_doubts(looks, beads.further, angled), *_unread(plan, course)),
        None if sheet is None else rope_size(placed, expected, sheet, motif),
        unseen=poor,
        plan=() if course is None else course.parts,
    )


def _changes(
    series: Series, limits: Tolerances, course: Course | None
) -> tuple[Series, list[LotChange], list[str]]:
    """Lot changes; of a plan those that are not the plan's own borders, nor the light's."""
    if course is None:
        return series, *lot_changes.lot_changes(series, limits)
    series = replace(series, beside=course.beside(series.at, series.name))
    changes, notes = lot_changes.lot_changes(series, limits)
    in_light = lot_changes.lot_changes(in_shared_light(course, series), limits)[0]
    return series, own_changes(course, changes, in_light), notes


def _where_sight_ends(change: LotChange, poor: tuple[Unseen, ...]) -> bool:
    """Whether a change lies where a shadow or a blur begins or ends: that changes every colour."""
    edges = (edge for part in poor for edge in (part.start, part.stop))
    return any(abs(change.at - edge) < NEAR_UNSEEN for edge in edges)


def _side(look: RoleLook, placed: Placed, changes: list[LotChange]) -> tuple[float, float]:
    """Where along the rope a role is of the lot that most of its beads are of, 0..1."""
    at = placed.strip.fraction(placed.beads.column[placed.beads.role == look.index])
    return lot_changes.larger_side(at, [change.at for change in changes if change.role == look.name])


def _role_colour(
    look: RoleLook, placed: Placed, side: tuple[float, float], calibration: Calibration
) -> RoleColour:
    """The role's colour; with a lot change, that of the side with more of it."""
    linear = look.linear
    if side != lot_changes.WHOLE:
        first, last = side
        where = colours.with_gloss(placed, colours.labels(placed)) == look.index
        at = placed.strip.fraction(np.arange(where.shape[1]))
        inside = where & ((at >= first) & (at < last))[None]
        if inside.any():
            linear = colours.mean_linear(placed, inside)
    lab = bead_lab(linear)
    doubt = float(calibration.uncertainty_of(lab))
    role, bead = role_and_bead(look.name)
    return RoleColour(
        role, (float(lab[0]), float(lab[1]), float(lab[2])), doubt, look.share, look.beads, look.index, bead
    )


def _lot_finding(change: LotChange, placed: Placed, sheen: str) -> Finding:
    pixel = _centre_pixel(placed, change.at)
    sides = tuple(tuple(float(v) for v in bead_lab(side)) for side in (change.before, change.after))
    role, bead = role_and_bead(change.role)
    return Finding(
        "lot-change",
        role,
        change.at,
        pixel,
        change.de00,
        1 - change.p_value,
        LotChanged(change.de00, sheen, bead),
        sides,  # type: ignore[arg-type]  # two sides, a list to mypy
    )


def _stray_finding(stray: Stray, placed: Placed, looks: list[RoleLook], names: dict[int, str]) -> Finding:
    strip = placed.strip
    at = float(strip.fraction(stray.column))
    spot = strip.pixel(stray.column, stray.row)
    wanted = next(look for look in looks if look.index == stray.wanted)
    reach = round(0.25 * placed.bead)
    row, column = round(stray.row), round(stray.column)
    patch = strip.linear[max(row - reach, 0) : row + reach + 1, max(column - reach, 0) : column + reach + 1]
    shown = np.median(patch.reshape(-1, 3), axis=0)
    found, want = bead_lab(shown), bead_lab(wanted.linear)
    becomes = None if stray.becomes is None else names[stray.becomes]
    return Finding(
        "stray-bead",
        names[stray.wanted],
        at,
        (float(spot[0]), float(spot[1])),
        float(delta_e_2000(want, found)),
        stray.confidence,
        StrayBead(becomes),
        (
            (float(want[0]), float(want[1]), float(want[2])),
            (float(found[0]), float(found[1]), float(found[2])),
        ),
    )


def _round_finding(stray: Stray, placed: Placed, names: dict[int, str]) -> Finding:
    at = float(placed.strip.fraction(stray.column))
    role = names[stray.wanted]
    return Finding(
        "plain-round",
        role,
        at,
        _centre_pixel(placed, at),
        None,
        stray.confidence,
        PlainRound(),
    )


def _slack_finding(stretch: Slack, placed: Placed, body: str) -> Finding:
    at = (stretch.start + stretch.stop) / 2
    about = SlackStretch(stretch.start, stretch.stop, stretch.ratio)
    return Finding("slack", body, at, _centre_pixel(placed, at), None, stretch.confidence, about)


def _centre_pixel(placed: Placed, at: float) -> tuple[float, float]:
    strip = placed.strip
    spot = strip.pixel(strip.start + at * (strip.stop - strip.start), strip.middle)
    return float(spot[0]), float(spot[1])


def _verdict(
    findings: list[Finding],
    limits: Tolerances,
    angled: set[str],
    poor: tuple[Unseen, ...],
    *,
    unread: bool,
) -> Verdict:
    """Uneven for odd beads, plain rounds, clear lot changes; check for small ones and what is seen poorly."""
    changes = [f for f in findings if f.kind == "lot-change"]
    clear = [f for f in changes if (f.de00 or 0) >= limits.uneven_de00 and f.role not in angled]
    if clear or any(f.kind in ("stray-bead", "plain-round", "plan-off") for f in findings):
        return "uneven"
    return "check" if changes or poor or unread else "even"


def _sections(series: Series, evened: FloatArray, roles: tuple[RoleColour, ...]) -> tuple[Section, ...]:
    from analyser.colour import grey_scale

    edges = np.linspace(0, 1, SECTIONS + 1)
    found = []
    for start, stop in pairwise(edges):
        inside = (series.at >= start) & (series.at < stop)
        here = {}
        for role in roles:
            mine = inside & (series.name == role.key)
            # Of several beads of a role the one with most there, which comes first: roles go by area.
            if mine.sum() >= 3 and role.role not in here:
                lab = _scale_light(role, np.median(evened[mine], axis=0))
                here[role.role] = SectionRole(
                    (float(lab[0]), float(lab[1]), float(lab[2])),
                    float(delta_e_2000(role.lab, lab)),
                    float(grey_scale.rating(role.lab, lab)),
                )
        found.append(Section(float(start), float(stop), here))
    return tuple(found)


def _scale_light(role: RoleColour, log_ratio: FloatArray) -> FloatArray:
    """The role's Lab with its linear light multiplied by exp(log_ratio), shape (..., 3)."""
    from analyser.colour.spaces import lab_to_linear

    return linear_to_lab(np.maximum(lab_to_linear(role.lab), 1e-4) * np.exp(log_ratio))


def _drifts(series: Series, evened: FloatArray, roles: tuple[RoleColour, ...]) -> tuple[Drift, ...]:
    places = np.linspace(0.02, 0.98, 97)
    found = []
    for role in roles:
        mine = series.name == role.key
        if mine.sum() < 8:
            continue
        weight = np.exp(-0.5 * ((places[:, None] - series.at[mine][None]) / 0.02) ** 2) + 1e-12
        calm = (weight @ evened[mine]) / weight.sum(axis=1)[:, None]
        found.append(Drift(role.key, places, np.asarray(delta_e_2000(role.lab, _scale_light(role, calm)))))
    return tuple(found)


def _unread(plan: ToldPlan | None, course: Course | None) -> list[str]:
    if plan is None:
        return []
    if course is not None:
        beads = [PlannedBead(*key).key.replace(":", " ") for key in sorted(course.laid.unread, key=str)]
        return [
            f"the plan's {bead} could not be told from the rope's other beads: where it lies was judged less "
            "closely"
            for bead in beads
        ]
    return [
        "the plan could not be found in this rope, and it was not judged: see whether it is the rope's, or "
        "judge it without one"
    ]


def _doubts(looks: list[RoleLook], further: bool, angled: dict[str, str]) -> list[str]:
    doubts = [
        f"the {role.replace(':', ' ')} looks {kind}: its colour hangs on the angle; a second photo, turned "
        "by 90 degrees, tells"
        for role, kind in angled.items()
    ]
    if len(looks) < 2:
        doubts.append(
            "one colour only: a change of lightness along the rope may be the light's, and is not judged"
        )
    if further:
        doubts.append(
            "a further colour comes back along the rope: it is taken for part of the motif and is not judged"
        )
    return doubts
