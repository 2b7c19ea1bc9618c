"""What a piece or a class takes, as the JSON of ``analyser count`` and as sentences.

``beads``, ``low``, ``high``, ``with_spare``, ``grams`` and ``thread_m`` are of one piece, or of each kit;
``class`` and ``order`` are of all.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from analyser.motif.plan import role_of_key
from analyser.report.answers import Answer, head

if TYPE_CHECKING:
    from analyser.piece.counting import BeadCount
    from analyser.piece.kits import ClassPlan, KitColourway
    from analyser.piece.piece_cards import KitCard, Portion
    from analyser.stock.bead import Bead
    from analyser.stock.holding import Held


def count_answer(
    colourways: Sequence[KitColourway], plan: ClassPlan, options: Mapping[str, Any], notes: Sequence[str]
) -> Answer:
    """The answer of ``analyser count``.

    Parameters
    ----------
    colourways : sequence of KitColourway
        One for a piece, or for a class in one colourway; its figures stand at the top.
    plan : ClassPlan
        Cards, what is missing, what to buy.
    options : mapping
        The options that held.
    notes : sequence of str
        Defaults and doubts, as ``reckoning`` gives them.
    """
    first = colourways[0].count
    several = len(colourways) > 1
    return {
        **head(options),
        "motif": first.motif.name,
        **count_fields(first),
        "kits": sum(made.kits for made in colourways),
        "stock": None if several or first.stock is None else stock_fields(first.stock),
        "enough": plan.enough if several else first.enough,
        "colourways": [
            {"name": made.name, "kits": made.kits, **count_fields(made.count)} for made in colourways
        ]
        if several
        else [],
        "missing": _unserved(plan.missing),
        "unknown": _unserved(plan.unknown),
        "cards": [kit_card_fields(card) for card in plan.cards],
        "order": [asdict(line) for line in plan.shopping],
        "notes": list(notes),
    }


def _unserved(lines: Sequence[tuple[str, str, int]]) -> list[Answer]:
    return [
        {
            "colourway": name or None,
            "role": role_of_key(key),
            "kits": kits,
            **({"bead": key.partition(":")[2]} if ":" in key else {}),
        }
        for name, key, kits in lines
    ]


def count_fields(count: BeadCount) -> Answer:
    """What one piece takes."""
    lengths, thread = count.lengths, count.thread
    return {
        "length_mm": float(lengths.finished_mm),
        "patterned_mm": float(lengths.patterned_mm),
        "size": count.size,
        "rounds": count.rounds,
        "rounds_low": count.rounds_low,
        "rounds_high": count.rounds_high,
        "rise_mm": dict(zip(("low", "likely", "high"), count.rise_mm, strict=True)),
        "gauge": str(count.gauge) if count.gauge else None,
        "lengths_mm": {
            "clasp": float(lengths.clasp_mm),
            "end_beads": float(lengths.end_beads_mm),
            "base_and_closing": float(lengths.ends_mm),
            "body": lengths.body_mm,
            "ease": lengths.ease_mm,
        },
        "kinds": {role: str(kind) for role, kind in count.kinds.items()},
        "beads": count.beads,
        "low": count.low,
        "high": count.high,
        "spare": count.spare,
        "with_spare": count.with_spare,
        "grams": count.grams,
        "thread_m": thread.total_m,
        "thread": asdict(thread),
        "end_bead_mm": float(count.end_bead_mm),
        "cost": None if count.cost is None else {"amount": count.cost, "currency": count.currency},
    }


def stock_fields(stock: Mapping[str, Held]) -> Answer:
    """What the stock holds of each role."""
    return {
        role: {
            "id": held.bead.id,
            "lot": held.bead.lot or None,
            "have": held.have,
            "enough": held.enough,
            "short": held.short,
            "lots": [{"lot": share.bead.lot or None, "kits": len(share.served)} for share in held.shares],
            "blend": held.blend or None,
        }
        for role, held in stock.items()
    }


def kit_card_fields(card: KitCard) -> Answer:
    """What goes into one bag."""
    return {
        "number": card.number,
        "colourway": card.colourway or None,
        "rounds": card.rounds,
        "portions": [_portion(portion) for portion in card.portions],
        "end_beads": card.end_beads or None,
        "needle": card.needle,
        "thread": card.thread,
        "text": card.text(),
    }


def _portion(portion: Portion) -> Answer:
    bead = portion.bead
    return {
        "role": portion.role,
        "letter": portion.letter,
        "id": bead.id if bead else None,
        "lot": (bead.lot or None) if bead else None,
        "kind": portion.kind,
        "beads": portion.beads,
        "grams": portion.grams,
    }


def end_beads_owned(ends: Mapping[float, Bead]) -> tuple[str, ...]:
    """Which beads of the list can serve as end beads, so that none are bought."""
    return tuple(
        f"end beads of {mm:g} mm: {bead.name} ({bead.id}) in your list will do; --end {bead.id} takes it"
        for mm, bead in ends.items()
    )


def reckoning(count: BeadCount, given: Collection[str] = ()) -> tuple[str, ...]:
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
    start = f"{lengths.finished_mm:.1f} mm finished"
    if lengths.body_mm is not None and lengths.ease_mm is not None:
        start = (
            f"{lengths.body_mm:.1f} mm around and {lengths.ease_mm:.1f} mm for the rope's own thickness "
            f"(pi times its diameter) make {start}"
        )
    ends = f"two end beads of {count.end_bead_mm:g} mm" if count.end_bead_mm else "no end beads"
    chain = (
        f"{start}; less clasp and rings {lengths.clasp_mm:g} mm{mark('clasp')}, {ends}{mark('end_bead')}, "
        f"base and closing {lengths.ends_mm:.1f} mm: {lengths.patterned_mm:.1f} mm for the rounds"
    )
    low, likely, high = count.rise_mm
    if count.gauge:
        rise = f"a round adds {likely:.2f} mm by your gauge, {count.gauge}"
    else:
        rise = (
            f"a round adds {likely:.2f} mm, {low:.2f} to {high:.2f}, by the table for {count.size} beads"
            f"{mark('size')}; your own gauge beats it: --gauge '37 rounds in 5cm'"
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
    return (chain, rise, aside, path, *count.notes)
