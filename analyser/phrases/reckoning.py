"""How a count of beads came about, and what to doubt of it, in sentences."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING

from analyser.piece.counting import BeadCount, leading
from analyser.piece.lengths import end_bead_mm
from analyser.piece.piece_cards import to_scale
from analyser.stock.bead import Bead
from analyser.stock.lots import BlendedLots

if TYPE_CHECKING:
    from analyser.piece.kits import KitColourway, ToBuy
    from analyser.stock.list.booking import BookedLine


def end_beads_owned(ends: Mapping[float, Bead]) -> tuple[str, ...]:
    """Which beads of the list can serve as end beads, so that none are bought."""
    return tuple(
        f"end beads of {mm:g} mm: {bead.name} ({bead.id}) in your list will do; --end {bead.id} takes it"
        for mm, bead in ends.items()
    )


def how(count: BeadCount, given: Collection[str] = ()) -> tuple[str, ...]:
    """How the count came about, each default named, then what to doubt.

    Parameters
    ----------
    count : BeadCount
        Of one piece.
    given : collection of str
        Options the maker gave (``clasp``, ``end_bead``, ``spare``, ``size``): the others are defaults.
    """

    def mark(option: str) -> str:
        return "" if option in given else " (default)"

    lengths, thread = count.lengths, count.thread
    start = f"{round(lengths.finished_mm, 1):g} mm finished"
    if lengths.body_mm is not None and lengths.ease_mm is not None:
        start = (
            f"{round(lengths.body_mm, 1):g} mm around and {lengths.ease_mm:.0f} mm for the rope's own "
            f"thickness (pi times its diameter) make {start}"
        )
    ends = f"two end beads of {count.end_bead_mm:g} mm" if count.end_bead_mm else "no end beads"
    chain = (
        f"{start}; less clasp and rings {lengths.clasp_mm:g} mm{mark('clasp')}, {ends}{mark('end_bead')}, "
        f"base and closing {lengths.ends_mm:.0f} mm: {lengths.patterned_mm:.0f} mm for the rounds"
    )
    low, likely, high = count.rise_mm
    if count.gauge:
        rise = f"a round adds {likely:.2f} mm by your gauge, {count.gauge}"
    else:
        rise = (
            f"a round adds {likely:.1f} mm, {low:.1f} to {high:.1f}, by the table for {count.size} beads"
            f"{mark('size')}; your own gauge beats it, such as --gauge '{50 / likely:.0f} rounds in 5cm'"
        )
    rates = ", ".join(
        dict.fromkeys(f"{kind.per_gram[0]:.4g} to the gram for {kind}" for kind in count.kinds.values())
    )
    aside = (
        f"set aside: the high count and {count.spare:.0%} spare{mark('spare')}, "
        f"weighed by the low end of beads per gram ({rates})"
    )
    path = (
        f"thread: {thread.round_passes} beads passed a round, {thread.first_round_passes} in the first; "
        f"a tenth for turns, a tail of 18 cm at either end, working threads of 1.8 m, "
        f"{thread.joins} join{'s' * (thread.joins != 1)} of 17.5 cm"
    )
    return (chain, rise, aside, path, *doubts(count))


def how_of_all(ways: Sequence[KitColourway], given: Collection[str] = ()) -> tuple[str, ...]:
    """``how`` of every colourway of a class; what does not hold for all of them is told with its name."""
    told = {way.name: how(way.count, given) for way in ways}
    lines = dict.fromkeys((line, name) for name, of_one in told.items() for line in of_one)
    everywhere = {line for line, _ in lines if all(line in of_one for of_one in told.values())}
    return tuple(dict.fromkeys(line if line in everywhere else f"{name}: {line}" for line, name in lines))


def with_spare(spare: float) -> str:
    """What a number of beads to set aside has in it.

    >>> with_spare(0.15)
    'with 15% spare'
    """
    return f"with {spare:.0%} spare"


def at_least(beads: int) -> str:
    """What a lot holds for sure, by the low end of beads per gram; the likely number is another figure.

    >>> at_least(5700), at_least(0)
    ('at least 5700', '0')
    """
    return f"at least {beads}" if beads else "0"


def doubts(count: BeadCount) -> tuple[str, ...]:
    """What a maker should know before trusting the numbers."""
    rope = count.kinds[leading(count.motif)]
    found = [
        f"{one.role}: {one.name} is {one.size} in the stock list, not {one.asked}; the list holds"
        for one in count.unlike
    ]
    found += [kind.note for kind in count.kinds.values() if kind.note]
    others = [
        f"{role} {kind}"
        for role, kind in count.kinds.items()
        if abs(kind.diameter_mm / rope.diameter_mm - 1) > 0.05
    ]
    if others and not count.gauge:
        found.append(
            f"the rise is that of {rope} beads alone; with {' and '.join(others)} among them "
            "count a gauge of your own"
        )
    if 0 < count.end_bead_mm < count.opening_mm:
        found.append(
            f"end beads of {count.end_bead_mm:g} mm slip into the opening of about "
            f"{count.opening_mm:.1f} mm; take {end_bead_mm(rope.diameter_mm, count.opening_mm):g} mm"
        )
    if count.motif.a_turn:
        strung = sum(len(letters) for letters in count.motif.rounds[0].beads)
        found.append(f"a spiral has no closed rounds: one round here is {strung} beads on; count beads")
    return tuple(dict.fromkeys(found))


def packs_to_buy(line: ToBuy) -> str:
    """How many packs, pieces or metres of a line of the shopping list."""
    if line.pack == "piece":
        return str(line.packs)
    return f"{line.packs} m" if line.pack == "metre" else f"{line.packs} × {line.pack}"


def beads_to_buy(line: ToBuy) -> str:
    """How many beads and grams of them are missing; empty for parts."""
    return f"{line.beads} beads, {to_scale(line.grams):.1f} g" if line.beads else ""


def booked(line: BookedLine) -> str:
    """What was taken out of a lot, and what its cell said before and says now."""
    lot = f", lot {line.lot}" if line.lot else ""
    unit = "g" if line.unit == "grams" else line.unit
    return f"{line.beads} beads of {line.id}{lot}: {line.before} → {line.after} {unit}".rstrip()


def blend(role: str, lots: BlendedLots) -> str:
    """How to pass from one lot to the other within a piece."""
    plan = lots.blend
    first, second = (f"lot {one.lot}" if one.lot else f"row {one.row}" for one in (lots.first, lots.second))
    return (
        f"one lot a piece is best; if two lots of the {role} must be mixed: "
        f"{plan.before} rounds of {first}, then {plan.step} rounds each of 3:1, 1:1 and 1:3 "
        f"({first} to {second}), then {plan.after} rounds of {second}"
    )
