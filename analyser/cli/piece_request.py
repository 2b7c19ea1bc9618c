"""A piece as the command line says it: length, beads, gauge; for counting it and for booking it out."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.cli import settings
from analyser.cli.options import Asked, given
from analyser.cli.output import remark
from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.motif.motif import Motif
    from analyser.piece.gauge import Gauge
    from analyser.piece.kits import KitColourway
    from analyser.stock.bead import Bead
    from analyser.stock.kinds import BeadKind
    from analyser.stock.stock import Stock

Lots = dict[str, tuple["Bead", ...]]
#: A colourway of a class: its name, the lots of each role, its kits.
Way = tuple[str, Lots, int]

_LENGTHS = ("length", "wrist", "neck", "rounds")


@dataclass(frozen=True, kw_only=True)
class PieceRequest(Asked):
    """What piece is made, in which beads, and to which gauge (``PIECE`` of the register)."""

    motif: str
    length: str | None
    wrist: str | None
    neck: str | None
    rounds: int | None
    size: str | None
    shape: str | None
    own_kinds: tuple[str, ...]
    gauge: str | None
    keep_gauge: bool
    spare: float | None
    clasp: str
    end_bead: str | None
    reinforced: bool
    accent: str | None
    body: str | None
    third: str | None
    end: str | None
    other_roles: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ClassRequest(PieceRequest):
    """A piece made several times, in one colourway or several."""

    kits: int | None
    colourways: tuple[str, ...]
    kept_names: tuple[str, ...]

    @property
    def of_a_class(self) -> bool:
        """Whether kits are made, not one piece."""
        return bool(self.kits or self.colourways or self.kept_names)

    def check_kept(self) -> None:
        """See that kept colourways, which say their beads and lengths themselves, stand alone.

        Raises
        ------
        OptionError
            If beads, lengths or kits are given beside them.
        """
        beside = given() & {"kits", "colourways", "motif", "plan_file", "fade", "bands", "gauge", *_LENGTHS}
        if self.kept_names and (beside or roles_of(self)):
            raise OptionError(
                "--kept says beads, motif and length itself; leave the others out, and say kits as 'NAME x3'"
            )


def roles_of(asked: PieceRequest) -> dict[str, str]:
    """The beads named for the roles of one piece."""
    single = {"accent": asked.accent, "body": asked.body, "third": asked.third, "end": asked.end}
    return {role: bead for role, bead in single.items() if bead} | named(asked.other_roles, "--role")


def ways(asked: ClassRequest, stock: Stock | None, motif: Motif) -> list[Way]:
    """Each colourway of a class with the lots of its beads and its kits; one, unnamed, of a piece."""
    from analyser.piece.kits import split_kits

    single = roles_of(asked)
    if not asked.colourways:
        return [("", lots(single, stock, motif), asked.kits or 1)]
    if single:
        raise OptionError("give the beads as --colourway or as --accent and --body, not both")
    found = [_way(text, stock, motif) for text in asked.colourways]
    numbers = [number for _, _, number in found if number is not None]
    if numbers and (len(numbers) < len(found) or asked.kits not in (None, sum(numbers)) or 0 in numbers):
        raise OptionError("either every --colourway says its kits (x3), adding up to --kits, or none does")
    kits = asked.kits or len(found)
    if kits < len(found):
        raise OptionError(f"{len(found)} colourways need at least {len(found)} kits, got {kits}")
    split = numbers or split_kits(kits, len(found))
    return [(name, beads, number) for (name, beads, _), number in zip(found, split, strict=True)]


def _way(text: str, stock: Stock | None, motif: Motif) -> tuple[str, Lots, int | None]:
    """Name, lots and kits, if they are said, of ``NAME: accent=BEAD, body=BEAD x3``."""
    parts = re.fullmatch(r"(?:([^:=]*):)?(.+?)(?:\s+x\s*(\d+))?", text.strip())
    if not parts or "=" not in parts[2]:
        raise OptionError(f"expected --colourway 'NAME: accent=BEAD, body=BEAD x3', got {text!r}")
    beads = lots(named(parts[2].split(","), "--colourway"), stock, motif)
    name = (parts[1] or "").strip() or " and ".join(beads[role][0].name for role in beads)
    return name, beads, int(parts[3]) if parts[3] else None


def length_of(asked: PieceRequest) -> dict[str, Any]:
    """Which length was given, as an argument of ``counting.count``."""
    from analyser.stock.units import length_mm

    typed = [name for name in _LENGTHS if name in given()]
    if len(typed) > 1:
        raise OptionError(f"give one of --length, --wrist, --neck, --rounds; got --{' and --'.join(typed)}")
    name = typed[0] if typed else "length"
    if name == "rounds":
        return {"rounds": asked.rounds}
    millimetres = length_mm(getattr(asked, name) or "18cm")
    return {"length_mm" if name == "length" else "body_mm": millimetres}


def kinds(asked: PieceRequest) -> dict[str, BeadKind]:
    """Roles whose bead was told by size and shape."""
    from analyser.piece.request import kinds_of

    return kinds_of(asked.own_kinds, asked.shape)


def named(texts: Iterable[str], option: str) -> dict[str, str]:
    """``ROLE=BEAD`` texts as a mapping."""
    from analyser.piece.request import named as as_named

    return as_named(texts, option)


def further_roles(third: str | None, others: Iterable[str], motif: Motif) -> dict[str, str]:
    """What is given for the letters beyond accent and body.

    Raises
    ------
    OptionError
        If the motif has no such letter.
    """
    found = ({"third": third} if third else {}) | named(others, "--role")
    for name in found:
        if name not in motif.roles or name in ("accent", "body"):
            has = ", ".join(motif.roles)
            raise OptionError(f"the motif {motif.name} has no further letter {name}; it has {has}")
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
    from analyser.piece.request import gauge_keys

    keys = gauge_keys(motif, size, shape, kinds, lots)
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
    asked: PieceRequest, motif: Motif, made: Sequence[Way], spare: float | None
) -> list[KitColourway]:
    """Each colourway, counted for its beads; its gauge kept where that was asked for."""
    from analyser.piece import counting
    from analyser.piece.kits import KitColourway
    from analyser.piece.request import millimetres
    from analyser.piece.thread import Threading
    from analyser.stock import units

    length = length_of(asked)
    size = units.size(asked.size) if asked.size else None
    own = kinds(asked)
    file = settings.find() or Path(settings.NAME)
    found = []
    for name, beads, kits in made:
        held, key = gauge(asked.gauge, file, motif, size, asked.shape, own, beads)
        count = counting.count(
            motif,
            **length,
            size=size,
            shape=asked.shape,
            kinds=own,
            gauge=held,
            spare=spare,
            kits=kits,
            clasp_mm=millimetres(asked.clasp),
            end_mm=None if asked.end_bead is None else millimetres(asked.end_bead),
            threading=Threading(reinforced=asked.reinforced),
            stock=beads,
        )
        found.append(KitColourway(name, count, beads, kits))
        if asked.keep_gauge:
            keep(file, key, held)
    return found
