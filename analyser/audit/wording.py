"""The plain sentence for each finding: where it is and what a maker does about it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ruler:
    """What is known of the rope's size.

    Attributes
    ----------
    length_mm : float or None
        From end to end, if the maker measured it.
    rounds : int or None
        Of the whole rope, from the motif and its rise.
    first_end, last_end : str
        What lies at the ends, or which way they point: ``left``, ``clasp``.
    """

    length_mm: float | None = None
    rounds: int | None = None
    first_end: str = "left"
    last_end: str = "right"

    def place(self, at: float) -> str:
        """Where a fraction of the length is, from the nearer end."""
        near, end = (at, self.first_end) if at <= 0.5 else (1 - at, self.last_end)
        if self.length_mm is None:
            text = f"{100 * near:.0f} % of the length from the {end} end"
        else:
            text = f"{near * self.length_mm / 10:.1f} cm from the {end} end"
        if self.rounds:
            text += f", about {max(1, round(near * self.rounds))} rounds"
        return text

    def nearer(self, at: float) -> str:
        """The name of the nearer end."""
        return self.first_end if at <= 0.5 else self.last_end


def lot_change(role: str, at: float, de00: float, ruler: Ruler) -> str:
    """Sentence for a lot change."""
    return (
        f"the {role} changes lot {ruler.place(at)} (CIEDE2000 {de00:.1f}); if that end can be unpicked, "
        f"unpick from it to here and fade the lots 3:1, 1:1, 1:3"
    )


def stray_bead(role: str, becomes: str | None, at: float, ruler: Ruler) -> str:
    """Sentence for a stray bead."""
    shown = "a bead of another colour" if becomes is None else f"{_a(becomes)} bead"
    return (
        f"{shown} sits where {_a(role)} bead belongs, {ruler.place(at)}; break it out with pliers and stitch "
        f"the right one in, or unpick from the {ruler.nearer(at)} end to here"
    )


def plain_round(role: str, at: float, ruler: Ruler) -> str:
    """Sentence for a round without its accents."""
    return (
        f"a round has no {role} beads, {ruler.place(at)}; unpick from the {ruler.nearer(at)} end to here "
        f"and work the round again"
    )


def _a(role: str) -> str:
    return f"an {role}" if role[:1] in "aeiou" else f"a {role}"
