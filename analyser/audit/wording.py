"""The plain sentence for each finding: where it is and what a maker does about it.

Places are told from the nearer end. Unpicking goes round by round from the end worked last, which may be the
other one; where it is not known, the sentence leaves it to the maker, who knows.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from analyser.motif.motif import Motif
from analyser.photo.reading import Photo
from analyser.rope.ends import End, Side, end_on_side, ends_of, side_names
from analyser.rope.placing import Placed

FADE = "fade the lots 3:1, 1:1, 1:3"


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

    def place(self, at: float) -> str:
        """Where a fraction of the length is, from the nearer end."""
        end = self.nearer(at)
        return self._size(at, end, f" from the {self._name(end)} end")

    def nearer(self, at: float) -> End:
        """The nearer end of a place."""
        return "first" if at <= 0.5 else "last"

    def unpick(self, at: float) -> str:
        """From where to unpick to a place, and how much that is unless the place has just been told so."""
        if self.worked is None:
            return "unpick from the end worked last to here"
        if self.worked == self.nearer(at):
            return "unpick from that end to here"
        return f"unpick from the {self._name(self.worked)} end to here ({self._size(at, self.worked)})"

    def much_to_unpick(self, at: float) -> str | None:
        """How much more than half must be unpicked, and from where; None if it is less or not known."""
        if self.worked is None or self.worked == self.nearer(at):
            return None
        return self._size(at, self.worked, f" from the {self._name(self.worked)} end")

    def notes(self) -> tuple[str, ...]:
        """What the advice rests on, if on the picture."""
        if not self.base_seen or self.worked is None:
            return ()
        worked = self._name(self.worked)
        base = self._name("last" if self.worked == "first" else "first")
        return (
            f"the band of one colour round the {base} end is taken for the base, so unpick from the {worked} "
            f"end; if the {base} end was worked last, unpick from there instead",
        )

    def _size(self, at: float, end: End, where: str = "") -> str:
        share = at if end == "first" else 1 - at
        if self.length_mm is None:
            text = f"{100 * share:.0f} % of the length{where}"
        else:
            text = f"{share * self.length_mm / 10:.1f} cm{where}"
        return f"{text}, about {_rounds(share * self.rounds)}" if self.rounds else text

    def _name(self, end: End) -> str:
        return self.first_end if end == "first" else self.last_end


def ruler_for(motif: Motif | None, length_mm: float | None, worked_to: Side | None) -> Ruler:
    """The ruler of what a maker tells; rounds need both the motif and the length."""
    rounds = None
    if motif is not None and length_mm is not None:
        rounds = max(1, round(length_mm / (motif.rise_beads * motif.bead_mm[1])))
    return Ruler(length_mm=length_mm, rounds=rounds, worked_to=worked_to)


def lot_change(role: str, at: float, de00: float, ruler: Ruler, sheen: str = "plain") -> str:
    """Sentence for a lot change; of beads whose colour hangs on the angle it asks, and does not accuse."""
    if sheen != "plain":
        return (
            f"the {role} looks {sheen} and seems to change {ruler.place(at)} (CIEDE2000 {de00:.1f}); such "
            "beads change with the angle: photograph the rope again turned by 90 degrees before unpicking "
            "anything"
        )
    return f"the {role} changes lot {ruler.place(at)} (CIEDE2000 {de00:.1f}); {ruler.unpick(at)} and {FADE}"


def stray_bead(role: str, becomes: str | None, at: float, ruler: Ruler) -> str:
    """Sentence for a stray bead."""
    shown = "a bead of another colour" if becomes is None else f"{_a(becomes)} bead"
    much = ruler.much_to_unpick(at)
    otherwise = f", or {ruler.unpick(at)}" if much is None else f": less work than unpicking {much}"
    return (
        f"{shown} sits where {_a(role)} bead belongs, {ruler.place(at)}; break it out with pliers and stitch "
        f"the right one in{otherwise}"
    )


def plain_round(role: str, at: float, ruler: Ruler) -> str:
    """Sentence for a round without its accents."""
    return f"a round has no {role} beads, {ruler.place(at)}; {ruler.unpick(at)} and work the round again"


def _rounds(number: float) -> str:
    whole = max(1, round(number))
    return "1 round" if whole == 1 else f"{whole} rounds"


def slack(start: float, stop: float, ratio: float, ruler: Ruler) -> str:
    """Sentence for a stretch drawn up less tightly: a remark."""
    if ruler.length_mm is None:
        size = f"{100 * (stop - start):.0f} % of the length"
    else:
        size = f"{(stop - start) * ruler.length_mm / 10:.1f} cm"
    return (
        f"{size}, with its middle {ruler.place((start + stop) / 2)}, is drawn up less tightly: its rounds "
        f"lie {100 * (ratio - 1):.0f} % farther apart; gaps darken it, and that is no fault of colour"
    )


def _a(role: str) -> str:
    return f"an {role}" if role[:1] in "aeiou" else f"a {role}"
