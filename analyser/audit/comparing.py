"""Pieces of a set against each other, and a rope against its stock beads."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.arrays import Lab
from analyser.audit.verdict import Piece, RoleColour
from analyser.colour.adaptation import illuminants
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab, xyz_to_linear
from analyser.photo.calibration import Calibration

WOVEN_AGAINST_PILED = (1.4, 4.7)
"""CIEDE2000 between the same opaque bead woven and in a pile: least and most over rendered ropes and trays.
The rope shades and mirrors itself otherwise than a heap does."""

LEFT_UNEVEN, EVENED_OUT = 0.05, 0.02
"""By how much the light may differ between two ropes of one photo, where it was left as it is and where it
was evened. Our choice: ropes side by side on a table by a window (common practice, no source)."""

_STRONGER = 2.0
"""Times by which the light of one photo may come out stronger than that of another, where neither shows
anything of known colour: one stop between two exposures that a camera chose (common practice, no source)."""

_ALIKE_LAB = 20.0
"""Lab distance over which colours share their camera's error; that over which a chart's patch speaks for its
neighbours."""

READING_DE00 = 0.5
"""Repeatability of a role's colour: of 20 roles of drawn ropes in one photo, of the same beads, 15 came
within 0.54; four were 1.4 to 2.1 apart."""


Told = Literal["same", "differs", "cannot tell"]

_SURE = 2.0
"""Times the doubt (68 %) from which two colours differ: one in twenty of equal ones comes so far apart.
Between one and two nothing is claimed."""

_SAME_NAME_DE00 = 1.0
"""What a role's name is worth where roles are matched by colour: less than anyone sees as another colour, so
that a name decides between twins only."""


@dataclass(frozen=True, slots=True)
class Between:
    """Two pieces' colours of a role.

    Attributes
    ----------
    a, b : int
        Places of the pieces in the list, from 0.
    role, role_b : str
        The role in the one and, matched by colour, in the other.
    lab_a, lab_b : tuple of 3 float
    de00 : float
    uncertainty_de00 : float
        Of the difference: of two colours of one photo, or both photos' uncertainties in quadrature.
    referenced : bool
        Whether both are of one photo, or of photos that show something of known colour each.
    by_light : bool
        Without that: whether other light alone may have made the difference.
    """

    a: int
    b: int
    role: str
    role_b: str
    lab_a: Lab
    lab_b: Lab
    de00: float
    uncertainty_de00: float
    referenced: bool
    by_light: bool = False

    @property
    def told(self) -> Told:
        """Whether the two can be told apart; within the doubt they are the same, given a reference."""
        if self.de00 > _SURE * self.uncertainty_de00:
            return "cannot tell" if self.by_light else "differs"
        return "same" if self.referenced and self.de00 <= self.uncertainty_de00 else "cannot tell"


@dataclass(frozen=True, slots=True)
class AgainstStock:
    """A role against the stock bead it was woven from.

    Attributes
    ----------
    role, bead : str
        The bead's name.
    de00 : float
    allowance_de00 : float
        What weaving and the photo explain.
    """

    role: str
    bead: str
    de00: float
    allowance_de00: float

    @property
    def explained(self) -> bool:
        """Whether weaving and the photo explain the difference."""
        return self.de00 <= self.allowance_de00


def between(pieces: Sequence[Piece]) -> list[Between]:
    """Every pair of pieces, role by role; which role answers to which is told by their colours."""
    found = []
    for (a, one), (b, other) in combinations(enumerate(pieces), 2):
        together = one.photo.sha256 == other.photo.sha256
        referenced = together or "none" not in (one.calibration.method, other.calibration.method)
        answering = _answering(one.roles, other.roles)
        explained = [False] * len(answering) if referenced else _by_light(one, other, answering)
        for (role, twin), by_light in zip(answering, explained, strict=True):
            if together:
                doubt = _within_one_photo(one.calibration, role.lab, twin.lab)
            else:
                doubt = float(np.hypot(role.uncertainty_de00, twin.uncertainty_de00))
            doubt = float(np.hypot(doubt, READING_DE00))
            de00 = float(delta_e_2000(role.lab, twin.lab))
            found.append(
                Between(a, b, role.role, twin.role, role.lab, twin.lab, de00, doubt, referenced, by_light)
            )
    return found


def _by_light(one: Piece, other: Piece, answering: Sequence[tuple[RoleColour, RoleColour]]) -> list[bool]:
    """Of two photos that show nothing of known colour: which differences other light alone may have made.

    The light is shared by all of a rope. In that which brings the ropes nearest to each other, what is left
    of a role's difference has to be more than the cameras' own error.
    """
    if not answering:
        return []
    warm = np.log(xyz_to_linear(illuminants()["A"].xyz))
    tint, strength = np.meshgrid(np.linspace(-1, 1, 25), np.linspace(-1, 1, 25) * np.log(_STRONGER))
    gains = np.exp(tint.reshape(-1, 1) * warm + strength.reshape(-1, 1))
    labs, twins = (np.array([pair[k].lab for pair in answering]) for k in (0, 1))
    lit = linear_to_lab(lab_to_linear(twins) * gains[:, None])
    left = delta_e_2000(lit, labs)
    cameras = [
        [float(piece.calibration.uncertainty_of_difference(lab, twin)) for piece in (one, other)]
        for lab, twin in zip(labs, twins, strict=True)
    ]
    own = [math.hypot(READING_DE00, *pair) for pair in cameras]
    within = left / (_SURE * np.array(own))
    return [bool(role <= 1.0) for role in within[np.argmin(within.max(axis=1))]]


def _within_one_photo(calibration: Calibration, lab: Lab, other: Lab) -> float:
    """What two places of one photo leave open of two colours' difference, in CIEDE2000.

    The light's error is shared and falls out, and so does the camera's, the more the nearer the colours are;
    what stays is that the light may be stronger at one of the places.
    """
    gap = float(np.linalg.norm(np.subtract(lab, other)))
    alone = 1.0 - np.exp(-0.5 * (gap / _ALIKE_LAB) ** 2)
    camera = float(calibration.uncertainty_of_difference(lab, other)) * np.sqrt(alone)
    stronger = LEFT_UNEVEN if calibration.field is None else EVENED_OUT
    dimmer = linear_to_lab(lab_to_linear(lab) * (1.0 - stronger))
    return float(np.hypot(camera, delta_e_2000(lab, dimmer)))


def _answering(
    roles: Sequence[RoleColour], others: Sequence[RoleColour]
) -> list[tuple[RoleColour, RoleColour]]:
    """Which role of one rope is which of another: so that the colours differ least in all."""
    from scipy.optimize import linear_sum_assignment

    apart = delta_e_2000(
        np.array([role.lab for role in roles])[:, None], np.array([role.lab for role in others])[None]
    )
    named = np.array([[role.role != other.role for other in others] for role in roles])
    rows, columns = linear_sum_assignment(apart + _SAME_NAME_DE00 * named)
    return [(roles[row], others[column]) for row, column in zip(rows, columns, strict=True)]


def against_stock(
    piece: Piece, role: str, bead: str, lab: npt.ArrayLike, doubt: float = 0.0
) -> AgainstStock | None:
    """A role against its stock colour, with the allowance for woven against piled; None if no such role.

    Parameters
    ----------
    lab : array_like, shape (3,)
        The stock bead's colour.
    doubt : float
        Its uncertainty in CIEDE2000.
    """
    # Without a plan a motif's fourth letter is the fourth of the roles told apart.
    seen = piece.role(role) or (piece.role("fourth") if role == "D" else None)
    if seen is None:
        return None
    de00 = float(delta_e_2000(seen.lab, lab))
    allowance = float(np.hypot(WOVEN_AGAINST_PILED[1], np.hypot(seen.uncertainty_de00, doubt)))
    return AgainstStock(role, bead, de00, allowance)
