"""Pieces of a set against each other, and a rope against its stock beads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np
import numpy.typing as npt

from analyser.arrays import Lab
from analyser.audit.verdict import Piece, RoleColour
from analyser.colour.difference import delta_e_2000

WOVEN_AGAINST_PILED = (1.4, 4.7)
"""CIEDE2000 between the same opaque bead woven and in a pile: least and most over rendered ropes and trays.
The rope shades and mirrors itself otherwise than a heap does."""

READING_DE00 = 0.5
"""Repeatability of a role's colour: the same rope turned, mirrored or exposed otherwise stays within it."""


Told = Literal["same", "differs", "cannot tell"]

_SURE = 2.0
"""Times the doubt from which two photos without a reference show different colours all the same: one in
twenty of equal ones differs by that (about two standard deviations)."""

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

    @property
    def told(self) -> Told:
        """Whether the two can be told apart; without a reference only what is far apart is."""
        if self.de00 > self.uncertainty_de00 * (1.0 if self.referenced else _SURE):
            return "differs"
        return "same" if self.referenced else "cannot tell"


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
        for role, twin in _answering(one.roles, other.roles):
            if together:  # the light's error is shared and falls out
                doubt = float(one.calibration.uncertainty_of_difference(role.lab, twin.lab))
            else:
                doubt = float(np.hypot(role.uncertainty_de00, twin.uncertainty_de00))
            doubt = float(np.hypot(doubt, READING_DE00))
            de00 = float(delta_e_2000(role.lab, twin.lab))
            found.append(Between(a, b, role.role, twin.role, role.lab, twin.lab, de00, doubt, referenced))
    return found


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
    seen = piece.role(role)
    if seen is None:
        return None
    de00 = float(delta_e_2000(seen.lab, lab))
    allowance = float(np.hypot(WOVEN_AGAINST_PILED[1], np.hypot(seen.uncertainty_de00, doubt)))
    return AgainstStock(role, bead, de00, allowance)
