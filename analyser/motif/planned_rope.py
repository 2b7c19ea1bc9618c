"""A planned rope laid out: which bead of each round is which, in a fade spread as evenly as can be.

In a fade like beads lie as far apart as they can, along and round the rope, so that no clumps and no
accidental stripes show.

Sources
-------
The choice of places is error diffusion with a Gaussian over the neighbours already decided, the idea of
void-and-cluster ordering: Ulichney (1993), Proc. SPIE 1913, 332-343, doi:10.1117/12.152707.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.motif.geometry import RopeBeads
from analyser.motif.motif import Motif
from analyser.motif.plan import Plan, PlannedBead, RoundMix, Span, ends_of, first_half, mixes_of, spans_of

SPREAD = 0.4
"""Spread of the neighbourhood in which a fade keeps its proportions, in spacings of its rarer bead.

Chosen on constant shares of 0.1 to 0.5 in the twelve shipped motifs, by how near the closest like beads
come."""

_RAREST = 0.05  # the neighbourhood grows no further for what is rarer than this
_GOLDEN = 0.6180339887498949  # breaks ties by a sequence that never comes back


@dataclass(frozen=True, slots=True, eq=False)
class PlannedRope:
    """A rope laid out with a plan.

    Attributes
    ----------
    beads : RopeBeads
        Its ``role`` holds the ``key`` of a planned bead instead of the motif's role.
    kinds : tuple of PlannedBead
        Those that are in it, in the order of their first bead.
    spans : tuple of Span
        The stretches as they fall on it; of a mirrored plan those of both halves.
    """

    beads: RopeBeads
    kinds: tuple[PlannedBead, ...]
    spans: tuple[Span, ...]


def lay(plan: Plan, motif: Motif, rounds: int, rise_mm: float, *, rise: float | None = None) -> PlannedRope:
    """Lay out a rope bead by bead as a plan says.

    Parameters
    ----------
    plan, rounds, rise_mm
        As of ``spans_of``.
    motif : Motif
    rise : float, optional
        Bead lengths that a round adds, as of ``Motif.rope``.

    Returns
    -------
    PlannedRope
        In a fade like beads lie as far apart as they can; a mirrored half has the order of its rounds and of
        the beads in them turned about.

    Raises
    ------
    ValueError
        As ``spans_of`` and ``Motif.rope``.
    """
    spans = spans_of(plan, rounds, rise_mm)
    rope = motif.rope(rounds, rise=rise)
    keys = rope.role.astype(object)
    half = first_half(plan, rounds)
    for role in motif.roles:
        mixes = mixes_of(plan, motif, rounds, rise_mm, role)
        mine = rope.role == role
        first, last = ends_of(plan, mixes, role)
        keys[mine & (rope.part == "base")] = PlannedBead(role, first).key
        keys[mine & (rope.part == "closing")] = PlannedBead(role, last).key
        in_pattern = np.flatnonzero(mine & (rope.part == "pattern"))
        of_round = np.split(in_pattern, np.searchsorted(rope.round[in_pattern], range(2, rounds + 1)))
        taken = _places(rope, of_round[:half], mixes[:half])
        for round_, (beads, mix) in enumerate(zip(of_round, mixes, strict=False)):
            fresh = taken[round_] if round_ < half else _mirrored(taken[rounds - 1 - round_], mix)
            keys[beads] = PlannedBead(role, mix.before).key
            keys[beads[fresh]] = PlannedBead(role, mix.after).key
    known = {
        PlannedBead(role, text).key: PlannedBead(role, text)
        for role in motif.roles
        for text in (None, *plan.texts(role))
    }
    return PlannedRope(
        replace(rope, role=keys.astype(np.str_)), tuple(known[key] for key in dict.fromkeys(keys)), spans
    )


def _mirrored(fresh: npt.NDArray[np.bool_], mix: RoundMix) -> npt.NDArray[np.bool_]:
    """The places of a round in mirrored order; where the round has another number, spread alike."""
    if len(fresh) == mix.beads:
        return fresh[::-1]
    found = np.zeros(mix.beads, dtype=bool)
    found[np.floor((np.arange(mix.fresh) + 0.5) * mix.beads / max(mix.fresh, 1)).astype(int)] = True
    return found


def _places(
    rope: RopeBeads, of_round: list[npt.NDArray[np.intp]], mixes: list[RoundMix]
) -> list[npt.NDArray[np.bool_]]:
    """Which beads of each round are the fresh ones: those round which fresh ones are missing most."""
    whole = np.concatenate(of_round) if of_round else np.empty(0, np.intp)
    if not len(whole):
        return [np.zeros(0, dtype=bool) for _ in of_round]
    around = 2.0 * math.pi * max(float(np.median(rope.out[whole])), 0.5)
    x, y = rope.angle_turns * around, rope.along_beads
    area = around * max(float(np.ptp(y[whole])), 1.0) / len(whole)
    spacing = math.sqrt(area)
    reach = 4.0 * SPREAD * spacing / math.sqrt(_RAREST)
    found: list[npt.NDArray[np.bool_]] = []
    near_x, near_y, surplus = np.empty(0), np.empty(0), np.empty(0)
    for number, (beads, mix) in enumerate(zip(of_round, mixes, strict=False)):
        fresh = np.zeros(len(beads), dtype=bool)
        spread = SPREAD * spacing / math.sqrt(max(min(mix.share, 1.0 - mix.share), _RAREST))
        if 0 < mix.fresh < len(beads):
            wish = -_pull(x[beads], y[beads], near_x, near_y, surplus, around, spread)
            wish += 1e-6 * np.mod((np.arange(len(beads)) + number) * _GOLDEN, 1.0)
            for _ in range(mix.fresh):
                best = int(np.argmax(np.where(fresh, -np.inf, wish)))
                fresh[best] = True
                one = np.array([best])
                wish -= _pull(x[beads], y[beads], x[beads[one]], y[beads[one]], np.ones(1), around, spread)
        else:
            fresh[:] = mix.fresh > 0
        found.append(fresh)
        near_x, near_y = np.append(near_x, x[beads]), np.append(near_y, y[beads])
        surplus = np.append(surplus, fresh - mix.share)
        kept = near_y > (y[beads].max() if len(beads) else 0.0) - reach
        near_x, near_y, surplus = near_x[kept], near_y[kept], surplus[kept]
    return found


def _pull(
    x: FloatArray,
    y: FloatArray,
    near_x: FloatArray,
    near_y: FloatArray,
    surplus: FloatArray,
    around: float,
    spread: float,
) -> FloatArray:
    """How much more of the fresh bead than wanted lies round each place."""
    across = np.abs(x[:, None] - near_x[None])
    across = np.minimum(across, around - across)
    weight = np.exp(-0.5 * (across**2 + (y[:, None] - near_y[None]) ** 2) / spread**2)
    return np.asarray(weight @ surplus)
