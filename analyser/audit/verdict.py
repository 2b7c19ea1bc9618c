"""What an audit of one rope says: its roles, sections, findings and verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analyser.arrays import FloatArray, Lab
from analyser.audit.looks_planned import LooksPlanned
from analyser.audit.on_sheet import RopeSize
from analyser.audit.plan_faults import OffPlan
from analyser.audit.planned import PlanPart
from analyser.audit.ruler import Ruler
from analyser.motif.plan import PlannedBead
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.rope.placing import Placed
from analyser.rope.seeing import Unseen
from analyser.rope.several import Unjudged

Kind = Literal["lot-change", "stray-bead", "plain-round", "slack", "plan-off"]
Verdict = Literal["even", "check", "uneven"]


@dataclass(frozen=True, slots=True)
class Tolerances:
    """From where a difference counts; each is an option of the command.

    Attributes
    ----------
    lot_de00 : float
        Least CIEDE2000 of a lot change that is reported. 1.0 is about the just visible difference of
        two fields side by side (common practice, no single source).
    uneven_de00 : float
        From here a lot change makes a piece ``uneven``, below it ``check``. 2.0: the looser of the
        customary commercial limits for cloth, CMC(2:1) 1.0 to 2.0 (common practice).
    alarm : float
        Chance that a role without a lot change shows one this clear. Of 352 roles of drawn and rendered
        ropes without one, three lay below 5e-3 and the least was 4e-4; of 47 with one, 40 did.
    stray : float
        Least odds, as a chance 0..1, that an odd place is a stray bead: of 71 on drawn ropes 45 of 46 true
        and 1 of 25 false ones lay above 0.35.
    """

    lot_de00: float = 0.8
    uneven_de00: float = 2.0
    alarm: float = 5e-3
    stray: float = 0.35


@dataclass(frozen=True, slots=True)
class RoleColour:
    """One role's colour over the piece: of the lot with the larger share of it.

    Attributes
    ----------
    role : str
    lab : tuple of 3 float
        Mean linear light of the role's pixels, gloss and shade included, as Lab.
    uncertainty_de00 : float
    share : float
        Of the rope's visible area, 0..1.
    beads : int
        Beads of the role told apart in the photo.
    index : int
        Of the role in the piece's ``placed``.
    sheen : str
        ``plain``, ``metallic`` or ``iridescent``.
    bead : str or None
        Of a rope with a plan: which of the role's beads it is, as the plan names it.
    """

    role: str
    lab: Lab
    uncertainty_de00: float
    share: float
    beads: int
    index: int
    bead: str | None = None
    sheen: str = "plain"

    @property
    def key(self) -> str:
        """One word for it: the role, and its bead where a plan names one."""
        return PlannedBead(self.role, self.bead).key


@dataclass(frozen=True, slots=True)
class SectionRole:
    """A role's colour in one section, light divided out, its difference to the piece's and its rating."""

    lab: Lab
    de00: float
    grey_scale: float


@dataclass(frozen=True, slots=True)
class Section:
    """A stretch of the rope, ``start`` to ``stop`` as fractions of its length."""

    start: float
    stop: float
    roles: dict[str, SectionRole]


@dataclass(frozen=True, slots=True)
class LotChanged:
    """A role changes its lot: by how much, how its beads shine (``plain`` where colour tells), which bead."""

    de00: float
    sheen: str = "plain"
    bead: str | None = None


@dataclass(frozen=True, slots=True)
class StrayBead:
    """A bead where another belongs.

    Attributes
    ----------
    becomes : str or None
        The role it is of; None if a colour of no role.
    bead, wanted : str or None
        Of a plan that gives the role several beads: which it is, and which it should be.
    """

    becomes: str | None
    bead: str | None = None
    wanted: str | None = None


@dataclass(frozen=True, slots=True)
class PlainRound:
    """A round without its accents."""


@dataclass(frozen=True, slots=True)
class SlackStretch:
    """A stretch drawn up less tightly, from and to as fractions of the length; its rise over the rope's."""

    start: float
    stop: float
    ratio: float


About = LotChanged | StrayBead | PlainRound | SlackStretch | OffPlan


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a maker should look at.

    Attributes
    ----------
    kind : str
    role : str
        Whose colour changes, or which role the motif wants at a stray bead's place.
    at : float
        Fraction of the length from the first end.
    pixel : tuple of 2 float
        Place in the upright full-size photo.
    de00 : float or None
        How far apart the two sides, or the bead and its role, are.
    confidence : float
        1 minus the chance of such a finding on an even rope.
    about : LotChanged, StrayBead, PlainRound, SlackStretch or OffPlan
        What ``phrases.audits`` puts into a sentence.
    sides : tuple of 2 Lab, or None
        The two colours to show side by side: before and after, or wanted and found.
    """

    kind: Kind
    role: str
    at: float
    pixel: tuple[float, float]
    de00: float | None
    confidence: float
    about: About
    sides: tuple[Lab, Lab] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """One role's difference to its own mean along the rope, for the plot.

    Attributes
    ----------
    role : str
    at : ndarray, shape (n,)
        Fractions of the length.
    de00 : ndarray, shape (n,)
        CIEDE2000 to the role's colour, slow light and turning of the tube divided out.
    """

    role: str
    at: FloatArray
    de00: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """The audit of one photo.

    Attributes
    ----------
    photo : Photo
        Calibrated.
    calibration : Calibration
    placed : Placed
        The unrolled rope and its beads.
    centreline : ndarray, shape (n, 2)
        In the full-size photo, from the first end to the last.
    width_px, bead_px : float
        Full-size pixels.
    roles : tuple of RoleColour
        Body first.
    sections : tuple of Section
    findings : tuple of Finding
        By place along the rope.
    drifts : tuple of Drift
    verdict : str
        ``even``, ``check`` or ``uneven``.
    ruler : Ruler
        Laid to the rope: its size and ends as far as they are known.
    notes : tuple of str
        What could not be told, in plain words.
    unseen : tuple of Unseen
        Where too much of it is seen too poorly; with any, it is not called even.
    size : RopeSize or None
        In millimetres, where it lay on a photo sheet.
    number, of : int
        Which rope of its photo it is, in reading order from 1, and of how many that were judged.
    plan : tuple of PlanPart
        The stretches of its plan as they lie on it, from the first end to the last; empty without a plan.
    asked : LooksPlanned or None
        A course of colours that looks planned where no plan was told.
    unjudged : tuple of Unjudged
        What else in its photo may be a rope; with any, the piece is not called even.
    """

    photo: Photo
    calibration: Calibration
    placed: Placed
    centreline: FloatArray
    width_px: float
    bead_px: float
    roles: tuple[RoleColour, ...]
    sections: tuple[Section, ...]
    findings: tuple[Finding, ...]
    drifts: tuple[Drift, ...]
    verdict: Verdict
    ruler: Ruler
    notes: tuple[str, ...] = ()
    size: RopeSize | None = None
    unseen: tuple[Unseen, ...] = ()
    number: int = 1
    of: int = 1
    plan: tuple[PlanPart, ...] = ()
    asked: LooksPlanned | None = None
    unjudged: tuple[Unjudged, ...] = ()

    @property
    def box(self) -> tuple[float, float, float, float]:
        """x, y, width and height of the box round the rope, in full-size pixels."""
        low = np.maximum(self.centreline.min(axis=0) - self.width_px / 2, 0)
        high = self.centreline.max(axis=0) + self.width_px / 2
        x1, y1 = min(high[0], self.photo.width), min(high[1], self.photo.height)
        return float(low[0]), float(low[1]), float(x1 - low[0]), float(y1 - low[1])

    @property
    def angled(self) -> frozenset[str]:
        """Roles whose colour hangs on the angle: metal and films."""
        return frozenset(role.role for role in self.roles if role.sheen != "plain")

    def role(self, name: str) -> RoleColour | None:
        """The role of that name or key, the larger where a plan gives it several beads; or None."""
        return next((role for role in self.roles if name in (role.role, role.key)), None)
