"""The chain of lengths: from a finished piece, or the wrist or neck it is for, to what the rounds fill.

Sources
-------
Allowances for clasp and end beads, and pi times the rope's diameter for the inside of the loop: common
practice, no single source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from analyser.errors import OptionError

CLASP_MM = 20.0
#: 6 mm on 11/0 beads of 2.1 mm, and in proportion on others (8.6 mm on 8/0).
END_BEAD_DIAMETERS = 6.0 / 2.1


@dataclass(frozen=True, slots=True)
class Lengths:
    """The chain of lengths in mm: finished - clasp - end beads - base and closing = patterned.

    Attributes
    ----------
    finished_mm : float
        From end to end, closed.
    clasp_mm, end_beads_mm, ends_mm : float
        Clasp with its rings; both end beads; base and closing.
    patterned_mm : float
        What is left for the rounds.
    body_mm, ease_mm : float or None
        The wrist or neck it was reckoned from, and pi times the rope's diameter that was added to it.
    """

    finished_mm: float
    clasp_mm: float
    end_beads_mm: float
    ends_mm: float
    patterned_mm: float
    body_mm: float | None = None
    ease_mm: float | None = None

    @classmethod
    def of_finished(cls, finished_mm: float, clasp_mm: float, end_beads_mm: float, ends_mm: float) -> Lengths:
        """From a finished length.

        Raises
        ------
        OptionError
            If nothing is left for the rounds.
        """
        patterned = finished_mm - clasp_mm - end_beads_mm - ends_mm
        if not patterned > 0:
            raise OptionError(
                f"{finished_mm:g} mm is too short: clasp and rings {clasp_mm:g}, end beads {end_beads_mm:g} "
                f"and base and closing {ends_mm:g} mm leave nothing for the rounds"
            )
        return cls(finished_mm, clasp_mm, end_beads_mm, ends_mm, patterned)

    @classmethod
    def of_body(
        cls, body_mm: float, rope_mm: float, clasp_mm: float, end_beads_mm: float, ends_mm: float
    ) -> Lengths:
        """From the wrist or neck it is for: the inside of the loop is pi times the rope's diameter shorter.

        Raises
        ------
        OptionError
            If nothing is left for the rounds.
        """
        ease = math.pi * rope_mm
        chain = cls.of_finished(body_mm + ease, clasp_mm, end_beads_mm, ends_mm)
        return replace(chain, body_mm=body_mm, ease_mm=ease)

    @classmethod
    def of_patterned(
        cls, patterned_mm: float, clasp_mm: float, end_beads_mm: float, ends_mm: float
    ) -> Lengths:
        """From the length of the rounds."""
        finished = patterned_mm + clasp_mm + end_beads_mm + ends_mm
        return cls(finished, clasp_mm, end_beads_mm, ends_mm, patterned_mm)


def end_bead_mm(bead_mm: float, opening_mm: float) -> float:
    """The smallest usual end bead: 6 mm on 11/0 and in proportion, never less than the opening it closes.

    Examples
    --------
    >>> end_bead_mm(2.1, 2.1), end_bead_mm(3.0, 3.0)
    (6.0, 8.6)
    """
    return math.ceil(max(END_BEAD_DIAMETERS * bead_mm, opening_mm) * 10 - 1e-6) / 10
