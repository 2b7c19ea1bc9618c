"""What a worker does with kits of kept colourways."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Literal

from analyser.errors import StockError
from analyser.phrases import reckoning
from analyser.piece import counting, kept, kept_pieces
from analyser.piece import kits as classes
from analyser.report import counts, pieces
from analyser.report.order_files import order_file
from analyser.web import piece_jobs

Wanted = Literal["answer", "cards", "csv", "xlsx", "takes"]


def packed(
    tell: Callable[..., None],
    stock_file: str,
    kits: Sequence[tuple[str, int]],
    spare: float | None,
    pack_grams: float,
    wanted: Wanted,
) -> Any:
    """Kits of kept colourways, as ``analyser count --kept`` counts them: the answer, or a part of it.

    Parameters
    ----------
    kits : sequence of (str, int)
        Files of kept colourways, and kits of each.
    wanted : str
        ``answer``; the ``cards`` page; the shopping list as ``csv`` or ``xlsx``; ``takes``, what to book out.

    Raises
    ------
    StockError
        If what to book out is asked for, and the list does not serve every kit for sure.
    """
    held = piece_jobs.stock(stock_file)
    aside = counting.SPARE_KIT if spare is None else spare
    made = [
        kept_pieces.counted(kept.read(Path(path)), held, kits=number, spare=aside) for path, number in kits
    ]
    ends = classes.owned_end_beads(made, held.beads)
    plan = classes.plan(made, pack_grams=pack_grams, owned_ends=ends)
    if wanted == "cards":
        from analyser.report.cards_page import cards_page

        return cards_page(made, plan)
    if wanted == "takes":
        for name, role, number in (*plan.missing, *plan.unknown):
            raise StockError(
                f"no lot is sure to hold the {role} beads for {number} of the kits of {name}; "
                "nothing is booked"
            )
        return list(plan.taken)
    if wanted != "answer":
        return order_file(plan.shopping, wanted)
    notes = (*reckoning.how_of_all(made, {"size"}), *reckoning.end_beads_owned(ends))
    to_buy = [
        {
            "what": line.what,
            "packs": reckoning.packs_to_buy(line),
            "beads": reckoning.beads_to_buy(line),
            "note": line.note,
        }
        for line in plan.shopping
    ]
    return {**counts.count_answer(made, plan, {}, notes), "to_buy": to_buy, "lots": pieces.lots_used(plan)}


JOBS = {"packed": packed}
