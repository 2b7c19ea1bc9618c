"""What is known of a rope's size and ends, for telling where a place lies and from where to unpick."""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyser.motif.motif import Motif
from analyser.photo.reading import Photo
from analyser.rope.ends import End, Side, end_on_side, ends_of, side_names
from analyser.rope.placing import Placed


@dataclass(frozen=True, slots=True)
class Ruler:
    """What is known of the rope's size and ends.

    Attributes
    ----------
    length_mm : float or None
        From end to end, if the maker measured it.
    rounds : int or None
        Of the whole rope, from the motif and its rise.
    first_end, last_end : str
        Which way the ends point in the photo.
    worked_to : str or None
        The side of the photo to which the maker worked: ``left``, ``right``, ``top`` or ``bottom``.
    worked : ``first``, ``last`` or None
        The end worked last; None where it is not known.
    base_seen : bool
        Whether ``worked`` was told from a base in the picture, not by the maker.
    """

    length_mm: float | None = None
    rounds: int | None = None
    first_end: str = "left"
    last_end: str = "right"
    worked_to: Side | None = None
    worked: End | None = None
    base_seen: bool = False

    def laid(self, placed: Placed, photo: Photo) -> Ruler:
        """The ruler laid to a rope: its ends named as they lie, and the end worked last where known.

        Parameters
        ----------
        placed : Placed
        photo : Photo
            The one the rope was found in.

        Raises
        ------
        OptionError
            If the rope's ends lie the other way than ``worked_to`` says.
        """
        first, last = side_names(placed.strip)
        if self.worked_to is not None:
            worked: End | None = end_on_side(placed.strip, self.worked_to, photo.file)
        else:
            height, width = photo.linear.shape[:2]
            worked = ends_of(placed, (height, width)).worked
        seen = self.worked_to is None and worked is not None
        return replace(self, first_end=first, last_end=last, worked=worked, base_seen=seen)

    def nearer(self, at: float) -> End:
        """The nearer end of a place."""
        return "first" if at <= 0.5 else "last"

    def share(self, at: float, end: End) -> float:
        """How much of the length lies between an end and a place, 0 to 1."""
        return at if end == "first" else 1 - at

    def name(self, end: End) -> str:
        """Which way an end points in the photo."""
        return self.first_end if end == "first" else self.last_end


def ruler_for(motif: Motif | None, length_mm: float | None, worked_to: Side | None) -> Ruler:
    """The ruler of what a maker tells; rounds need both the motif and the length."""
    rounds = None
    if motif is not None and length_mm is not None:
        rounds = max(1, round(length_mm / (motif.rise_beads * motif.bead_mm[1])))
    return Ruler(length_mm=length_mm, rounds=rounds, worked_to=worked_to)
