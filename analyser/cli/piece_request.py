"""A piece as the command line says it: length, beads, gauge; for counting it and for booking it out."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from analyser.cli.options import SHARE
from analyser.cli.output import remark
from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.motif.motif import Motif
    from analyser.piece.counting import BeadCount
    from analyser.piece.gauge import Gauge
    from analyser.stock.bead import Bead
    from analyser.stock.kinds import BeadKind
    from analyser.stock.list.stock_list import Stock

F = TypeVar("F", bound=Callable[..., Any])
Lots = dict[str, tuple["Bead", ...]]

_LENGTHS = ("length", "wrist", "neck", "rounds")


def of_a_piece(function: F) -> F:
    """The options that say what piece is made, in which beads, and to which gauge."""
    for option in reversed(
        (
            click.option(
                "--motif",
                default="chenille",
                show_default=True,
                help="A shipped motif, or your own .toml file.",
            ),
            click.option("--length", help="Finished length with clasp: 18cm, 180mm or 7in.  [default: 18cm]"),
            click.option(
                "--wrist",
                help="Instead of --length: the wrist it is for; pi times the rope's diameter is added.",
            ),
            click.option("--neck", help="Instead of --length: the neck or place it is to lie on; likewise."),
            click.option(
                "--rounds", type=click.IntRange(min=0), help="Instead of --length: the rounds themselves."
            ),
            click.option("--size", help="Bead size: 11/0, 11 or 4mm.  [default: the stock's, else 11/0]"),
            click.option(
                "--shape", help="Bead shape: round or cylinder.  [default: the stock's, else round]"
            ),
            click.option(
                "--bead",
                "own_kinds",
                multiple=True,
                metavar="ROLE=SIZE[ SHAPE]",
                help="A role with a size of its own.",
            ),
            click.option("--gauge", "gauge_text", help="Your own gauge: '37 rounds in 5cm'."),
            click.option(
                "--keep-gauge", is_flag=True, help="Keep it in analyser.toml for this motif and bead."
            ),
            click.option(
                "--spare", type=SHARE, help="Beads on top.  [default: 10% for a piece, 15% for kits]"
            ),
            click.option(
                "--clasp", default="20mm", show_default=True, help="Length of the clasp with its rings."
            ),
            click.option(
                "--end-bead",
                help="Each of the two end beads, 0 for none.  [default: 6mm on 11/0, in proportion]",
            ),
            click.option(
                "--reinforced", is_flag=True, help="The thread goes through each round a second time."
            ),
            click.option("--accent", help="Bead of the stock for the accent, by id or name."),
            click.option("--body", help="Bead of the stock for the body."),
            click.option("--third", help="Bead of the stock for the third colour."),
            click.option("--end", help="Bead of the stock for the two end beads."),
            click.option(
                "--role",
                "other_roles",
                multiple=True,
                metavar="LETTER=BEAD",
                help="Bead for a further letter.",
            ),
        )
    ):
        function = option(function)
    return function


def roles_of(told: Mapping[str, Any]) -> dict[str, str]:
    """The beads named for the roles of one piece."""
    single = {role: told[role] for role in ("accent", "body", "third", "end") if told[role]}
    return single | named(told["other_roles"], "--role")


def length_of(told: Mapping[str, Any], given: set[str]) -> dict[str, Any]:
    """Which length was given, as an argument of ``counting.count``."""
    from analyser.stock.units import length_mm

    asked = [name for name in _LENGTHS if name in given]
    if len(asked) > 1:
        raise OptionError(f"give one of --length, --wrist, --neck, --rounds; got --{' and --'.join(asked)}")
    name = asked[0] if asked else "length"
    if name == "rounds":
        return {"rounds": told["rounds"]}
    millimetres = length_mm(told[name] or "18cm")
    return {"length_mm" if name == "length" else "body_mm": millimetres}


def kinds(told: Mapping[str, Any]) -> dict[str, BeadKind]:
    """Roles whose bead was told by size and shape."""
    from analyser.stock.kinds import kind_of
    from analyser.stock.units import size

    kinds = {}
    for text in told["own_kinds"]:
        name, sign, bead = text.partition("=")
        number, _, shape = bead.strip().partition(" ")
        if not sign or not number:
            raise OptionError(f"expected --bead ROLE=SIZE such as accent=4mm, got {text!r}")
        kinds[role(name)] = kind_of(size(number), shape.strip() or told["shape"] or "round")
    return kinds


def role(text: str) -> str:
    """A role by its name or letter."""
    from analyser.motif.geometry import ROLES

    name = text.strip()
    return ROLES.get(name.upper(), name if name in (*ROLES.values(), "end") else name.upper())


def named(texts: Any, option: str) -> dict[str, str]:
    """``ROLE=BEAD`` texts as a mapping."""
    found = {}
    for text in texts:
        name, sign, bead = text.partition("=")
        if not sign or not name.strip() or not bead.strip():
            raise OptionError(f"{option}: expected ROLE=BEAD, got {text.strip()!r}")
        found[role(name)] = bead.strip()
    return found


def lots(beads: Mapping[str, str], stock: Stock | None, motif: Motif) -> Lots:
    """All lots of each role's bead."""
    if not beads:
        return {}
    if stock is None:
        raise OptionError("beads are looked up in a stock list; give it as --stock FILE")
    for role in beads:
        if role not in (*motif.roles, "end"):
            raise OptionError(f"the motif {motif.name} has no {role}; it has {', '.join(motif.roles)}")
    return {role: stock.lots(bead) for role, bead in beads.items()}


def gauge(
    text: str | None,
    file: Path,
    motif: Motif,
    size: str | None,
    shape: str | None,
    kinds: Mapping[str, BeadKind],
    lots: Lots,
) -> tuple[Gauge | None, str]:
    """The gauge given, or else the one kept for this motif and bead; and the key to keep it by."""
    from analyser.piece import gauge as gauges
    from analyser.piece.counting import leading, role_kinds

    lead = leading(motif)
    keys = [gauges.key_of(motif.name, str(role_kinds(motif, size, kinds, lots, shape)[lead]))]
    if lead in lots:
        keys.insert(0, gauges.key_of(motif.name, lots[lead][0].id))
    if text:
        return gauges.Gauge.parse(text), keys[0]
    held = gauges.kept(file)
    key = next((key for key in keys if key in held), None)
    if key:
        remark(f"gauge kept in {file} for {key}: {held[key]}")
    return (held[key] if key else None), keys[0]


def keep(file: Path, key: str, gauge: Gauge | None) -> None:
    """Keep a gauge in the settings file."""
    from analyser.piece import gauge as gauges

    if gauge is None:
        raise OptionError("--keep-gauge keeps what --gauge says; give that too")
    gauges.keep(file, key, gauge)
    remark(f"kept in {file} for {key}: {gauge}")


def counted(
    motif: Motif,
    piece: Mapping[str, Any],
    size: str | None,
    kinds: Mapping[str, BeadKind],
    gauge: Gauge | None,
    lots: Lots,
    told: Mapping[str, Any],
    kits: int,
) -> BeadCount:
    """One colourway, counted."""
    from analyser.piece import counting
    from analyser.piece.thread import Threading

    end = told["end_bead"]
    spare = told["spare"]
    if spare is None and (told.get("kits") or told.get("colourways")):
        spare = counting.SPARE_KIT
    return counting.count(
        motif,
        **piece,
        size=size,
        shape=told["shape"],
        kinds=kinds,
        gauge=gauge,
        spare=spare,
        kits=kits,
        clasp_mm=in_mm(told["clasp"]),
        end_mm=None if end is None else in_mm(end),
        threading=Threading(reinforced=told["reinforced"]),
        stock=lots,
    )


def in_mm(text: str) -> float:
    """A length that may be nothing: ``0`` or ``none``."""
    from analyser.stock import units

    return 0.0 if re.fullmatch(r"\s*(none|0+\s*([a-z]+)?)\s*", text, re.IGNORECASE) else units.length_mm(text)
