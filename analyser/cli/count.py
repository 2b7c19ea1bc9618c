"""``analyser count``: beads, grams and thread for a piece or a class."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from analyser.cli import piece_request
from analyser.cli.options import common, stock_option
from analyser.cli.output import remark_left_out, show
from analyser.cli.piece_request import Lots, of_a_piece
from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.motif.motif import Motif
    from analyser.stock.list.stock_list import Stock


@click.command()
@of_a_piece
@click.option("--kits", type=click.IntRange(1, 1000), help="Kits of a class.")
@click.option(
    "--colourway",
    "colourways",
    multiple=True,
    metavar="[NAME:]ROLE=BEAD,...[ xKITS]",
    help="One colourway of a class; give it again for each.",
)
@click.option(
    "--pack", default=10.0, show_default=True, type=click.FloatRange(min=0.1), help="Grams of a pack to buy."
)
@stock_option(required=False)
@common
@click.pass_context
def count(
    ctx: click.Context, /, stock_file: Path | None, skip_faulty: bool, json_file: Path | None, **told: Any
) -> None:
    """Count beads, grams and thread for a piece or a class, and whether the stock holds them."""
    from analyser.cli import settings
    from analyser.motif import motif as motifs
    from analyser.piece import kits as classes
    from analyser.report import counts
    from analyser.stock import units
    from analyser.stock.list import stock_list as stocks

    given = {name for name in told if ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE}
    motif = motifs.load(told["motif"])
    stock = stocks.read(stock_file, skip_faulty=skip_faulty) if stock_file else None
    remark_left_out(stock)
    ways = _ways(told, stock, motif)
    length = piece_request.length_of(told, given)
    size = units.size(told["size"]) if told["size"] else None
    kinds = piece_request.kinds(told)
    file = settings.find() or Path(settings.NAME)
    made = []
    for name, lots, number in ways:
        gauge, gauge_key = piece_request.gauge(
            told["gauge_text"], file, motif, size, told["shape"], kinds, lots
        )
        counted = piece_request.counted(motif, length, size, kinds, gauge, lots, told, number)
        made.append(classes.Colourway(name, counted, lots, number))
        if told["keep_gauge"]:
            piece_request.keep(file, gauge_key, gauge)
    plan = classes.plan(made, pack_grams=told["pack"])
    notes = counts.reckoning(made[0].count, given | ({"end_bead"} if "end" in made[0].stock else set()))
    options = {"stock": str(stock_file) if stock_file else None, **_plain(told)}
    answer = counts.count_answer(made, plan, options, notes)

    def readable(console: Any) -> None:
        from analyser.cli.count_readable import print_count

        print_count(console, made, plan, notes)

    show(answer, json_file, readable)


def _plain(told: Mapping[str, Any]) -> dict[str, Any]:
    """The options by the names one types, lists for JSON."""
    typed = {"own_kinds": "bead", "gauge_text": "gauge", "other_roles": "role", "colourways": "colourway"}
    return {typed.get(k, k): list(v) if isinstance(v, tuple) else v for k, v in told.items()}


def _ways(told: Mapping[str, Any], stock: Stock | None, motif: Motif) -> list[tuple[str, Lots, int]]:
    """Each colourway: its name, the lots of each role, its kits."""
    from analyser.piece.kits import split_kits

    single = piece_request.roles_of(told)
    if not told["colourways"]:
        return [("", piece_request.lots(single, stock, motif), told["kits"] or 1)]
    if single:
        raise OptionError("give the beads as --colourway or as --accent and --body, not both")
    found = []
    for text in told["colourways"]:
        parts = re.fullmatch(r"(?:([^:=]*):)?(.+?)(?:\s+x\s*(\d+))?", text.strip())
        if not parts or "=" not in parts[2]:
            raise OptionError(f"expected --colourway 'NAME: accent=BEAD, body=BEAD x3', got {text!r}")
        beads = piece_request.named(parts[2].split(","), "--colourway")
        lots = piece_request.lots(beads, stock, motif)
        name = (parts[1] or "").strip() or " and ".join(lots[role][0].name for role in lots)
        found.append((name, lots, int(parts[3]) if parts[3] else None))
    numbers = [number for _, _, number in found if number is not None]
    if numbers and (len(numbers) < len(found) or told["kits"] not in (None, sum(numbers)) or 0 in numbers):
        raise OptionError("either every --colourway says its kits (x3), adding up to --kits, or none does")
    kits = told["kits"] or len(found)
    if kits < len(found):
        raise OptionError(f"{len(found)} colourways need at least {len(found)} kits, got {kits}")
    split = numbers or split_kits(kits, len(found))
    return [(name, lots, number) for (name, lots, _), number in zip(found, split, strict=True)]
