"""What an audit by a plan finds: where the plan was not kept, and beads of another stretch."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from analyser.audit.change_point import robust_fit, splines
from analyser.audit.lot_changes import ACROSS, ALONG, ECHO, WIDEST, LotChange, Series
from analyser.audit.plan_faults import NEAR_ROUNDS, ODD_SIDE, odd_ones, off_plan
from analyser.audit.planned import Course, wanted_there
from analyser.audit.strays import Stray
from analyser.audit.verdict import Finding, StrayBead
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.motif.plan import PlannedBead, role_and_bead
from analyser.photo.even_sky import bead_lab

LEAST_STEADY = 40
"""Beads of roles without a plan from which the light along the rope is told."""

ALIKE = 0.1
"""Share of the length within which two places of a change are one: between a bead's stretches any will do."""

NEAR = 0.04
"""Share of the length within which a change lies at a border."""

SURE_ODD = 0.95
"""How sure a bead of another colour of its role is: as sure as colours told apart, which 3 in 100 are not."""


def plan_findings(course: Course) -> list[Finding]:
    """Where the plan was not kept."""
    strip = course.beads.strip
    found = []
    for one in off_plan(course.laid, rounds_known=course.rounds_known):
        x, y = strip.pixel(strip.start + one.at * (strip.stop - strip.start), strip.middle).tolist()
        found.append(Finding("plan-off", one.role, one.at, (x, y), None, one.sure, one))
    return found


def sure_strays(course: Course, strays: list[Stray]) -> list[Stray]:
    """Strays without those at the rope's sides that are of no role's colour: there the table shows through.

    The colours of a plan leave more to be strange than two roles do. Nor are those told that are strange
    where the plan wants a bead that could not be told apart: they may be it; nor at a border, where they may
    be of its other side.
    """
    strip, laid = course.roles.strip, course.laid
    inner = ODD_SIDE * strip.radius
    borders = np.array([one.stop for one in laid.woven[:-1]])
    near = NEAR_ROUNDS / laid.rounds
    return [
        one
        for one in strays
        if (one.becomes is not None or abs(one.row - strip.middle) < inner)
        and not laid.wants_unread(wanted_there(laid, float(strip.fraction(one.column))))
        and not (np.abs(borders - float(strip.fraction(one.column))) < near).any()
    ]


def in_shared_light(course: Course, series: Series) -> Series:
    """The beads of a role with a plan in the light of the other role's, which runs on between its stretches.

    What a bead that comes and goes does from stretch to stretch may be the light's.
    """
    role_of = np.array([role_and_bead(name)[0] for name in series.name.tolist()])
    constant = [look.name for look in course.role_looks if len(_beads_of(course, look.name)) == 1]
    steady = np.isin(role_of, constant)
    if steady.sum() < LEAST_STEADY or steady.all():
        return series
    design = np.column_stack(
        [splines(series.across, -WIDEST, WIDEST, ACROSS), splines(series.at, 0, 1, ALONG)[:, 1:]]
    )
    course_of = design[:, ACROSS:]
    left = robust_fit(design[steady], series.logs[steady])[0]
    fit = np.linalg.lstsq(design[steady], series.logs[steady] - left, rcond=None)[0]
    shared = course_of @ fit[ACROSS:]
    shared -= shared[steady].mean(axis=0)
    return replace(series, logs=np.where(steady[:, None], series.logs, series.logs - shared))


def _beads_of(course: Course, role: str) -> list[str | None]:
    return [bead for name, bead in course.laid.classes if name == role]


def own_changes(course: Course, changes: list[LotChange], in_light: list[LotChange]) -> list[LotChange]:
    """Lot changes of which the plan is not the cause.

    Left out are a planned border of another role, seen again in its neighbours, and what only shows with the
    light of the other role taken off or only without: a bead that comes and goes has no course of its own in
    between. So is what lies at the border of a stretch, or in a fade, whose bead was not told apart from
    others: it is in their colour.

    Parameters
    ----------
    course : Course
    changes : list of LotChange
    in_light : list of LotChange
        The same, found ``in_shared_light``.
    """
    looks = {look.name: linear_to_lab(look.linear) for look in course.looks}
    found = []
    for change in changes:
        if not any(one.role == change.role and abs(one.at - change.at) <= ALIKE for one in in_light):
            continue
        beside = [
            one
            for one in course.laid.woven
            if min(abs(one.start - change.at), abs(one.stop - change.at)) <= NEAR
            or (one.wanted.fades and one.start < change.at < one.stop)
        ]
        if any(course.laid.wants_unread(one) for one in beside):
            continue
        mine, echo = role_and_bead(change.role)[0], 0.0
        for one, other in pairwise(course.laid.woven):
            if abs(one.stop - change.at) > NEAR:
                continue
            for role, bead in one.shown.after.items():
                sides = [looks.get(PlannedBead(role, text).key) for text in (bead, other.shown.before[role])]
                if role != mine and sides[0] is not None and sides[1] is not None:
                    echo = max(echo, float(delta_e_2000(sides[0], sides[1])))
        if change.de00 >= ECHO * echo:
            found.append(change)
    return found


def odd_findings(course: Course, strays: list[Stray]) -> list[Finding]:
    """Beads of a role that belong to another stretch, except where a stray bead was found already."""
    placed = course.beads
    beads, strip = placed.beads, placed.strip
    looks = {look.name: look for look in course.looks}
    found = []
    for index, (role, shown), wanted in odd_ones(course):
        column, row = float(beads.column[index]), float(beads.row[index])
        if any(abs(s.column - column) + abs(s.row - row) < placed.bead for s in strays):
            continue
        want = looks.get(PlannedBead(role, wanted).key)
        lab = bead_lab(beads.linear[index])
        sides = None
        if want is not None:
            first = bead_lab(want.linear)
            sides = (
                (float(first[0]), float(first[1]), float(first[2])),
                (float(lab[0]), float(lab[1]), float(lab[2])),
            )
        x, y = strip.pixel(column, row).tolist()
        found.append(
            Finding(
                "stray-bead",
                role,
                float(strip.fraction(column)),
                (x, y),
                None if sides is None else float(delta_e_2000(*sides)),
                SURE_ODD,
                StrayBead(role, shown, wanted),
                sides,
            )
        )
    return found
