"""The page can what the command line can, and the other way round: what only one of them can has a reason.

``docs/decisions/web.md`` tells the reasons; this holds them to the options and the paths there are.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from analyser.cli.main import command
from analyser.web import wishes

DECISIONS = Path(__file__).resolve().parents[2] / "docs" / "decisions" / "web.md"

#: Options of every verb, and where the page has them: a field of a model of ``wishes``, or a path, with a
#: parameter behind a question mark where one is meant.
EVERYWHERE = {
    "calibration": "PhotoWishes.calibration", "card": "PhotoWishes.card", "no_card": "PhotoWishes.no_card",
    "even_light": "PhotoWishes.even_light", "corrected": "/api/photos/{photo}/corrected.jpg",
    "focus": "ColourwayWishes.focus", "mask_file": "/api/photos/{photo}/mask",
    "spots": "/api/photos/{photo}/colour?x",
    "json_file": "/api/photos/{photo}/answer.{kind}", "out_dir": "/api/photos/{photo}/answer.{kind}",
}  # fmt: skip
PIECE = {
    "motif": "PieceWishes.motif", "length": "PieceWishes.length", "wrist": "PieceWishes.wrist",
    "neck": "PieceWishes.neck", "rounds": "PieceWishes.rounds", "size": "PieceWishes.size",
    "shape": "PieceWishes.shape", "own_kinds": "PieceWishes.bead", "gauge": "PieceWishes.gauge",
    "spare": "PieceWishes.spare", "clasp": "PieceWishes.clasp", "end_bead": "PieceWishes.end_bead",
    "reinforced": "PieceWishes.reinforced", "accent": "PieceWishes.accent", "body": "PieceWishes.body",
    "third": "PieceWishes.third", "keep_gauge": "TypedGauge.gauge", "end": "PieceWishes.end",
    "other_roles": "PieceWishes.role",
    "plan_file": "PlanWishes.plan", "fade": "PlanWishes.plan", "bands": "PlanWishes.plan",
    "kits": "Packing.kits", "colourways": "Packing.kept", "kept_names": "Packing.kept",
    "pack": "Packing.pack_grams", "order_file": "/api/pack/order.{kind}",
    "cards_file": "/api/pack/cards",
}  # fmt: skip
ON_THE_PAGE = {
    "palette": {"colours": "ColourwayWishes.colours"},
    "colourway": {
        "from_rope": "ColourwayWishes.from_rope", "colours": "ColourwayWishes.colours",
        "contrast": "ColourwayWishes.contrast", "mind_colour_vision": "ColourwayWishes.mind_colour_vision",
        "finish": "ColourwayWishes.finish", "top": "ColourwayWishes.top",
        "collection": "ColourwayWishes.collection", "worn_on": "ColourwayWishes.worn_on",
        "thread": "ColourwayWishes.thread", "stays": "ColourwayWishes.keep_bead", "keep_as": "Keeping.name",
        "keep_pair": "Keeping.pair", "keep_with": "Keeping.company", "note": "Keeping.note",
        "plan_file": "ColourwayWishes.plan", "steps": "ColourwayWishes.plan_steps",
    },
    "contrast": {"worn_on": "PairWishes.worn_on", "thread": "PairWishes.thread"},
    "match": {
        "finish": "/api/stock?finish", "size": "/api/stock?size", "at_least": "/api/stock?at_least",
        "top": "/api/photos/{photo}/colour?top",
    },
    "audit": {
        "motif": "RopeWishes.motif", "length": "RopeWishes.length", "worked_to": "RopeWishes.worked_to",
        "accent": "RopeWishes.accent", "body": "RopeWishes.body", "third": "RopeWishes.third",
        "other_roles": "RopeWishes.role", "planned": "RopeWishes.planned",
        "plan_file": "RopeWishes.plan", "fade": "RopeWishes.plan", "bands": "RopeWishes.plan",
        "lot_tolerance": "RopeWishes.lot_tolerance", "uneven_from": "RopeWishes.uneven_from",
        "size": "KeptGauge.size", "keep_gauge": "/api/ropes/{photo}/gauge",
        "new_lot": "/api/ropes/{photo}/new-lot?x", "old_lot": "/api/ropes/{photo}/new-lot?old_x",
        "same_piece": "/api/ropes/compared?same_piece",
    },
    "sheet": {
        "layout": "/api/sheet/photo-sheet.{kind}?layout", "paper": "/api/sheet/photo-sheet.{kind}?paper",
        "name": "/api/sheet/photo-sheet.{kind}?name", "out_file": "/api/sheet/photo-sheet.{kind}",
        "learn": "/api/sheet/paper", "scale_is": "/api/sheet/paper?scale_is",
    },
    "stock check": {"takes": "Agreement.kind"},
    "stock add": {
        "into": "/api/photos/{photo}/piles", "names_file": "NamedPile.id", "fill": "NamedPile.row",
        "size": "NamedPiles.size", "replace_colour": "NamedPile.replace", "another_lot": "NamedPiles.further",
    },
    "stock set": {"bead": "CellChange.row", "column": "CellChange.column", "value": "CellChange.value"},
    "stock use": {"card_file": "/api/stock/pieces", "notes": "TakenWishes.notes"},
    "stock undo": {"steps": "/api/stock/undo"},
    "kept again": {"keep_as": "KeptAgain.name"},
    "kept list": {"with_bead": "/api/kept"},
    "kept show": {"out_file": "/api/kept/sheet"},
    "kept mark": {"state": "KeptState.state"},
    "motif show": {"out_file": "/api/motifs/drawn"},
}  # fmt: skip

#: What only the command line can; why stands in the decisions under the same name.
ONLY_COMMAND_LINE = {"stock_file", "skip_faulty", "limit_mp", "quiet", "verbose", "strict"}
#: What the page has as two fields and the command line as one, or the other way round.
TOLD_OTHERWISE = {
    "CellChange.was", "ColourwayWishes.keep_colour", "ColourwayWishes.plan_between", "ColourwayWishes.mask",
    "Keeping.photo", "Keeping.plan", "Packing.spare", "PairWishes.bead", "NamedPile.number",
    "NamedPile.name", "NamedPile.lot", "NamedPiles.piles", "Agreement.value", "KeptGauge.rope",
    *(f"KeptAgain.{name}" for name in ("length", "wrist", "neck")),
    *(f"PlanWishes.{name}" for name in ("motif", "size", "length", "accent", "body", "third", "gauge")),
    "PlanWishes.role",
}  # fmt: skip
OF_PROGRAMS = {"batch", "schema", "serve"}


def verbs(group: click.Group = command, before: str = "") -> Iterator[tuple[str, click.Command]]:
    for name, verb in group.commands.items():
        if isinstance(verb, click.Group):
            yield from verbs(verb, f"{before}{name} ")
        elif name not in OF_PROGRAMS:
            yield f"{before}{name}", verb


def options() -> list[tuple[str, str]]:
    return [
        (verb, one.name or "")
        for verb, told in verbs()
        for one in told.params
        if isinstance(one, click.Option) and not one.is_eager
    ]


def place_of(verb: str, option: str) -> str | None:
    for known in (ON_THE_PAGE.get(verb, {}), EVERYWHERE, PIECE):
        if option in known:
            return known[option]
    return None


def test_every_option_is_on_the_page_or_has_a_reason():
    left = {(verb, option) for verb, option in options() if place_of(verb, option) is None}
    assert {option for _, option in left} <= ONLY_COMMAND_LINE, left
    told = DECISIONS.read_text(encoding="utf-8")
    for name in ONLY_COMMAND_LINE | OF_PROGRAMS:
        shown = {"stock_file": "stock", "skip_faulty": "refuse-faulty"}.get(name, name.replace("_", "-"))
        assert f"`{'' if name in OF_PROGRAMS else '--'}{shown}`" in told, name


@pytest.mark.parametrize("place", sorted({place for told in ON_THE_PAGE.values() for place in told.values()}
                                         | set(EVERYWHERE.values()) | set(PIECE.values())))  # fmt: skip
def test_the_place_is_there(page, place):
    if not place.startswith("/"):
        model, field = place.split(".")
        assert field in getattr(wishes, model).model_fields
        return
    path, _, parameter = place.partition("?")
    methods = page.get("/openapi.json").json()["paths"][path]
    if parameter:
        named = {one["name"] for told in methods.values() for one in told.get("parameters", ())}
        assert parameter in named


def test_every_wish_of_the_page_is_an_option():
    known = {
        *EVERYWHERE.values(),
        *PIECE.values(),
        *(p for told in ON_THE_PAGE.values() for p in told.values()),
    }
    named = {place.partition(".")[2] for place in known if not place.startswith("/")}
    for place in known | TOLD_OTHERWISE:
        if place.startswith("/"):
            continue
        model = getattr(wishes, place.split(".")[0])
        for field in model.model_fields:
            assert field in named or f"{model.__name__}.{field}" in TOLD_OTHERWISE, (model.__name__, field)
