"""What a worker does for two beads beside each other, and for the piece made of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from analyser.colourway import companions, design, reasons
from analyser.colourway import worn_on as worn
from analyser.colourway.measures import measure
from analyser.motif.motif import Motif
from analyser.phrases import reckoning
from analyser.phrases.sentences import sentence
from analyser.piece import kits, piece_cards
from analyser.piece.counting import END_BEADS
from analyser.piece.gauge import Gauge, kept
from analyser.piece.kits import KitColourway
from analyser.piece.request import PieceTexts
from analyser.report import counts, pair_answers
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.stock.colour_text import read_colour
from analyser.stock.list import agreed, opening, stock_list
from analyser.stock.lots import largest
from analyser.stock.stock import Stock
from analyser.web import shown
from analyser.web.job_cache import Kept, known_motif

Wishes = Mapping[str, Any]

_STOCKS = Kept(2)
_ROLES = ("accent", "body", "third", "end")
_PAIR = ("accent", "body")


def stock(path: str) -> Stock:
    """The list, read again only where its file changed."""
    return _STOCKS.get((path, *opening.stamp(Path(path))), lambda: stock_list.read(path))


def texts_of(wishes: Wishes) -> PieceTexts:
    """What was typed of a piece."""
    same = {field.name for field in dataclasses.fields(PieceTexts)} & set(wishes)
    return PieceTexts(**{name: wishes[name] for name in same})


def lots_of(held: Stock, bead: Bead) -> tuple[Bead, ...]:
    """All lots of a bead, of its size and shape."""
    kind = bead.id.casefold(), bead.size, bead.shape
    return tuple(one for one in held.beads if (one.id.casefold(), one.size, one.shape) == kind)


def count_answer(made: KitColourway) -> dict[str, Any]:
    """The answer of ``analyser count`` for one piece."""
    return counts.count_answer([made], kits.plan([made]), {}, reckoning.how(made.count, {"size"}))


def kept_gauges(stock_file: str) -> dict[str, Gauge]:
    """The maker's usual gauges, kept beside the list."""
    return kept(agreed.file_of(Path(stock_file)))


def named(wishes: Wishes, motif: Motif) -> dict[str, str]:
    """What was named for each role that the motif weaves, and for the end beads."""
    texts = {role: wishes[role] for role in _ROLES if wishes.get(role)} | texts_of(wishes).other_roles
    return {role: text for role, text in texts.items() if role in (*motif.roles, "end")}


def _lots(texts: Mapping[str, str], held: Stock) -> dict[str, tuple[Bead, ...]]:
    return {role: held.lots(text) for role, text in texts.items()}


def pair(tell: Callable[..., None], stock_file: str, wishes: Wishes) -> dict[str, Any]:
    """Job of ``analyser contrast``, and of ``analyser count`` where a length is given."""
    held = stock(stock_file)
    size = units.size(wishes["size"])
    motif = known_motif(wishes["motif"], stock_file)
    texts = {role: wishes[role] for role in _PAIR} | named(wishes, motif)
    end = texts.pop("end", None)
    given = {role: read_colour(text, held) for role, text in texts.items()}
    one, two = given["accent"], given["body"]
    others = {role: colour.lab for role, colour in given.items() if role not in _PAIR}
    measures = measure([one.lab], [two.lab], design.seen_motif(design.Wishes(motif, size))).one(0, others)
    ground, thread = wishes.get("worn_on"), wishes.get("thread")
    own = [colour.bead for colour in given.values() if colour.bead]
    answer = pair_answers.contrast_answer(
        measures,
        given,
        [role for role in motif.roles if role not in given],
        reasons.of_measures(measures, one.bead, two.bead),
        {"stock": stock_file, "motif": motif.name, "size": size},
        worn.worn_on(measures, read_colour(ground, held).lab) if ground else None,
        companions.thread_on(read_colour(thread, held).lab, two.lab, own) if thread else None,
    )
    if end:
        answer["pair"]["beads"]["end"] = pair_answers.bead_fields(held.find(end))
        texts["end"] = end
    piece = texts_of(wishes)
    if piece.has_length:
        # A colour is counted by the size that is told: it is no bead of the list.
        beads = {role: text for role, text in texts.items() if role == "end" or given[role].bead}
        made = piece.counted(motif, _lots(beads, held), gauges=kept_gauges(stock_file))
        answer["pair"]["counted"] = count_answer(made)
    dressed = shown.dressed(answer)
    more = [(answer["pair"]["worn_on"] or {}).get("says"), answer["pair"]["thread"], *answer["notes"]]
    dressed["pair"]["sentences"] += [sentence([says]) for says in more if says]
    return dressed


def takes(tell: Callable[..., None], stock_file: str, wishes: Wishes) -> dict[str, Any]:
    """What a piece takes out of which lots, and its card: ``analyser stock use`` before the booking."""
    held = stock(stock_file)
    motif = known_motif(wishes["motif"], stock_file)
    lots = {role: (largest(found),) for role, found in _lots(named(wishes, motif), held).items()}
    made = texts_of(wishes).counted(motif, lots, gauges=kept_gauges(stock_file))
    takes_of = [(found[0], made.count.beads.get(role, END_BEADS)) for role, found in lots.items()]
    chosen = {role: found[0] for role, found in lots.items()}
    card = piece_cards.piece_card(made.count, chosen, date.today(), wishes.get("notes") or "")
    return {"lots": takes_of, "card": card.text()}


JOBS = {function.__name__: function for function in (pair, takes)}
