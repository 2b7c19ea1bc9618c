"""What a piece or a class takes, as the JSON of ``analyser count`` and as sentences.

``beads``, ``low``, ``high``, ``with_spare``, ``grams`` and ``thread_m`` are of one piece, or of each kit;
``class`` and ``order`` are of all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from analyser.motif.plan import role_of_key
from analyser.phrases import reckoning
from analyser.report.answers import Answer, head

if TYPE_CHECKING:
    from analyser.piece.counting import BeadCount
    from analyser.piece.kits import ClassPlan, KitColourway
    from analyser.piece.piece_cards import KitCard, Portion
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
        Defaults and doubts, as ``phrases.reckoning`` gives them.
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
            "blend": reckoning.blend(role, held.blend) if held.blend else None,
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
