"""Motif files: TOML that a maker can write, read into ``Motif``; each fault with its line and the mend.

The format is explained by the comments of the shipped files in ``motifs/``; ``chenille.toml`` is the one
to copy. This is the one place where motif files are opened.
"""

from __future__ import annotations

import dataclasses
import math
import re
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from analyser.errors import MotifError
from analyser.files import read_typed
from analyser.motif.geometry import Place, Row
from analyser.motif.motif import Motif, RoundRise, Thread
from analyser.motif.toml_text import Where, lines_of, syntax_fault, syntax_line

_LARGEST_REPEAT = 400
_LARGEST_FILE = 100_000
_KEYS = "name title says columns pitch_around repeats_after a_turn bead rise stitch base round closing thread"


@cache
def names() -> tuple[str, ...]:
    """The names of the shipped motifs, sorted."""
    folder = Path(__file__).with_name("motifs")
    return tuple(sorted(entry.name[:-5] for entry in folder.iterdir() if entry.name.endswith(".toml")))


def shipped_text(name: str) -> str:
    """The text of a shipped motif's file."""
    return (Path(__file__).with_name("motifs") / f"{name}.toml").read_text(encoding="utf-8")


def load(name_or_path: str | Path) -> Motif:
    """A shipped motif by its name, or the maker's own from a ``.toml`` file.

    Raises
    ------
    MotifError
        If there is no such motif, or its file has a fault: with the line and the mend.
    """
    text = str(name_or_path)
    if text in names():
        return _shipped(text)
    path = Path(name_or_path)
    if path.suffix.lower() != ".toml":
        raise MotifError(f"no motif {text!r}; known are {', '.join(names())}, or give a .toml file")
    return parse(read_text(path), str(path))


@cache
def _shipped(name: str) -> Motif:
    return parse(shipped_text(name), f"{name}.toml")


def read_text(path: Path) -> str:
    """The text of a motif file.

    Raises
    ------
    MotifError
        If it cannot be read, or is no UTF-8.
    """
    return read_typed(path, _LARGEST_FILE, "a motif", error=MotifError)


def parse(text: str, file: str) -> Motif:
    """A motif from the text of its file; ``file`` is named in faults.

    Raises
    ------
    MotifError
        At the first fault: with the line and the mend.
    """
    try:
        data = tomllib.loads(text)
    except RecursionError as error:
        raise MotifError(f"{file}: its brackets lie too deep to be a motif; see the shipped ones") from error
    except tomllib.TOMLDecodeError as error:
        raise MotifError(syntax_fault(str(error), text, file), syntax_line(str(error), text)) from error
    return _MotifReader(data, lines_of(text), file).motif()


class _MotifReader:
    """The parsed file, read key by key."""

    def __init__(self, data: Mapping[str, Any], lines: Mapping[Where, int], file: str) -> None:
        self.data, self.lines, self.file = data, lines, file

    def fault(self, where: Where, says: str) -> MotifError:
        """The fault at a key, or at the nearest table above it that stands in the file."""
        name = ".".join(str(part + 1) if isinstance(part, int) else part for part in where)
        at = where
        while at and at not in self.lines:
            at = at[:-1]
        place = f"{self.file}, line {self.lines[at]}" if at else self.file
        return MotifError(f"{place}: {name + ': ' if name else ''}{says}", self.lines.get(at) if at else None)

    def check_keys(self, table: Mapping[str, Any], where: Where, keys: str) -> None:
        for key in table:
            if key not in keys.split():
                raise self.fault((*where, key), f"unknown; known here are {', '.join(keys.split())}")

    def number(
        self,
        table: Mapping[str, Any],
        where: Where,
        key: str,
        default: float | None = None,
        low: float = -math.inf,
        high: float = math.inf,
        whole: bool = False,
    ) -> float:
        at = (*where, key)
        kind = "a whole number" if whole else "a number"
        if key not in table:
            if default is None:
                raise self.fault(at, f"missing; write {key} = {kind} here")
            return default
        value = table[key]
        right = isinstance(value, int if whole else (int, float)) and not isinstance(value, bool)
        if not right or not low <= value <= high:
            between = f" from {low:g} to {high:g}" if math.isfinite(low) and math.isfinite(high) else ""
            raise self.fault(at, f"expected {kind}{between}, got {value!r}")
        return float(value)

    def text(self, table: Mapping[str, Any], where: Where, key: str, default: str | None = None) -> str:
        if key not in table:
            if default is None:
                raise self.fault((*where, key), f'missing; write {key} = "..." here')
            return default
        value = table[key]
        if not isinstance(value, str) or not value.strip():
            raise self.fault((*where, key), f"expected text in quotes, got {value!r}")
        return value.strip()

    def table(self, table: Mapping[str, Any], where: Where, key: str) -> Mapping[str, Any]:
        value = table.get(key, {})
        if not isinstance(value, Mapping):
            raise self.fault((*where, key), f"expected a table [{key}], got {value!r}")
        return value

    def motif(self) -> Motif:
        data = self.data
        self.check_keys(data, (), _KEYS)
        stitches = self.stitches()
        name = self.text(data, (), "name")
        a_turn = self.number(data, (), "a_turn", math.nan, 0.5, 200)
        spiral = None if math.isnan(a_turn) else a_turn
        rounds = self.rows("round", stitches, spiral is not None)
        if not rounds:
            raise self.fault(("round",), "missing; write at least one [[round]]")
        if len({len(row.beads) for row in rounds}) > 1:
            raise self.fault(("round",), "all rounds of a repeat need the same number of stitches")
        thread = self.table(data, (), "thread")
        self.check_keys(thread, ("thread",), "step_up first_round")
        first = self.number(thread, ("thread",), "first_round", 0, 0, 10_000, whole=True)
        bead = self.table(data, (), "bead")
        self.check_keys(bead, ("bead",), "diameter_mm length_mm")
        motif = Motif(
            name=name,
            title=self.text(data, (), "title", name),
            says=self.text(data, (), "says", ""),
            columns=int(self.number(data, (), "columns", None, 1, 200, whole=True)),
            pitch_around=self.number(data, (), "pitch_around", 1.0, 0.2, 10),
            rise=self.rise(),
            base=self.rows("base", stitches),
            rounds=rounds,
            closing=self.rows("closing", stitches),
            a_turn=spiral,
            repeat_rounds=int(self.number(data, (), "repeats_after", 1, 1, _LARGEST_REPEAT, whole=True)),
            thread=Thread(
                int(self.number(thread, ("thread",), "step_up", 0, 0, 1000, whole=True)), int(first) or None
            ),
            bead_mm=(
                self.number(bead, ("bead",), "diameter_mm", 2.1, 0.3, 50),
                self.number(bead, ("bead",), "length_mm", 1.5, 0.3, 50),
            ),
        )
        if "repeats_after" not in data:
            return dataclasses.replace(motif, repeat_rounds=self.repeat(motif))
        self.check_repeat(motif)
        return motif

    def rise(self) -> RoundRise:
        value = self.data.get("rise")
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            likely = self.number(self.data, (), "rise", None, 0.01, 50)
            return RoundRise(likely, likely, likely)
        table = self.table(self.data, (), "rise")
        self.check_keys(table, ("rise",), "low likely high of")
        of = self.text(table, ("rise",), "of", "length")
        if of not in ("length", "diameter"):
            raise self.fault(("rise", "of"), f'expected "length" or "diameter", got {of!r}')
        low, likely, high = (
            self.number(table, ("rise",), key, None, 0.01, 50) for key in ("low", "likely", "high")
        )
        if not low <= likely <= high:
            raise self.fault(("rise",), f"low, likely, high must not fall, got {low:g}, {likely:g}, {high:g}")
        return RoundRise(low, likely, high, of)

    def stitches(self) -> dict[str, tuple[Place, ...]]:
        found = {}
        for name, table in self.table(self.data, (), "stitch").items():
            where: Where = ("stitch", name)
            if (
                not isinstance(table, Mapping)
                or not isinstance(table.get("beads"), list)
                or not table["beads"]
            ):
                raise self.fault(
                    where,
                    f"missing beads; write [stitch.{name}] and beads = [ {{ around = 0, along = 0.5 }} ]",
                )
            self.check_keys(table, where, "beads")
            found[name] = tuple(
                self.place(bead, (*where, "beads", i)) for i, bead in enumerate(table["beads"])
            )
        return found

    def place(self, bead: object, where: Where) -> Place:
        if not isinstance(bead, Mapping):
            raise self.fault(where, f"expected {{ around = ..., along = ... }}, got {bead!r}")
        self.check_keys(bead, where, "around along out lean tip passes")
        return Place(
            around=self.number(bead, where, "around", 0.0, -100, 100),
            along=self.number(bead, where, "along", None, -100, 100),
            out=self.number(bead, where, "out", 0.0, -50, 50),
            lean_deg=self.number(bead, where, "lean", 0.0, -180, 180),
            tip_deg=self.number(bead, where, "tip", 0.0, -90, 90),
            passes=int(self.number(bead, where, "passes", 1, 1, 50, whole=True)),
        )

    def rows(
        self, kind: str, stitches: Mapping[str, tuple[Place, ...]], spiral: bool = False
    ) -> tuple[Row, ...]:
        tables = self.data.get(kind, [])
        if not isinstance(tables, list) or not all(isinstance(table, Mapping) for table in tables):
            raise self.fault((kind,), f"expected [[{kind}]] with two brackets each side")
        return tuple(self.row(table, (kind, i), stitches, spiral) for i, table in enumerate(tables))

    def row(
        self, table: Mapping[str, Any], where: Where, stitches: Mapping[str, tuple[Place, ...]], spiral: bool
    ) -> Row:
        self.check_keys(table, where, "stitch stitches beads rise turn")
        stitch = self.text(table, where, "stitch")
        if stitch not in stitches:
            known = ", ".join(stitches) or f"none yet: write [stitch.{stitch}]"
            raise self.fault((*where, "stitch"), f"no stitch {stitch!r}; known are {known}")
        count = int(self.number(table, where, "stitches", None, 1, 200, whole=True))
        groups = self.text(table, where, "beads").split()
        each = len(stitches[stitch])
        if len(groups) not in (1, count):
            raise self.fault(
                (*where, "beads"),
                f"{len(groups)} groups of letters for {count} stitches; "
                f"write one group for all, or {count} with spaces between",
            )
        for group in groups:
            if not re.fullmatch(r"[A-Z]+", group):
                raise self.fault((*where, "beads"), f"expected capital letters, one a bead, got {group!r}")
            if len(group) != each:
                beads = f"{each} bead{'s' * (each != 1)}"
                raise self.fault(
                    (*where, "beads"),
                    f"{group!r} has {len(group)} letters, but stitch {stitch!r} has {beads}",
                )
        if spiral and "turn" in table:
            raise self.fault((*where, "turn"), "a spiral (a_turn) turns by itself; leave turn out")
        return Row(
            stitch=stitches[stitch],
            beads=tuple(groups if len(groups) == count else groups * count),
            rise=self.number(table, where, "rise", 1.0, 0.0, 100),
            turn=self.turn(table, where),
        )

    def turn(self, table: Mapping[str, Any], where: Where) -> float:
        """A number of stitches, or a fraction such as "1/6" that has no exact decimal."""
        value = table.get("turn")
        if isinstance(value, str) and (found := re.fullmatch(r"\s*(-?\d+)\s*/\s*([1-9]\d*)\s*", value)):
            return int(found[1]) / int(found[2])
        if isinstance(value, str):
            raise self.fault((*where, "turn"), f'expected a number or a fraction like "1/6", got {value!r}')
        return self.number(table, where, "turn", 0.0, -1000, 1000)

    def repeat(self, motif: Motif) -> int:
        """What turns and letters give, where the file leaves it out."""
        real = repeat_of(motif)
        if real is None:
            says = f"with these turns and letters nothing comes back within {_LARGEST_REPEAT} rounds"
            raise self.fault(("round", 0), says)
        return real

    def check_repeat(self, motif: Motif) -> None:
        """``repeats_after`` must be what turns and letters really give."""
        stated = motif.repeat_rounds
        if stated % len(motif.rounds):
            raise self.fault(
                ("repeats_after",), f"{stated} is no multiple of the {len(motif.rounds)} rounds written below"
            )
        real = repeat_of(motif)
        if real != stated:
            after = f"after {real} rounds" if real else f"not within {_LARGEST_REPEAT} rounds"
            raise self.fault(
                ("repeats_after",),
                f"says {stated}, but with these turns and letters everything comes back {after}",
            )


def repeat_of(motif: Motif) -> int | None:
    """Rounds after which places and roles come back unturned; None if not within 400."""
    rows = motif.rounds
    turns = [
        (len(row.beads) if motif.a_turn else row.turn) / (motif.a_turn or len(row.beads)) for row in rows
    ]
    for repeats in range(1, _LARGEST_REPEAT // len(rows) + 1):
        turned = repeats * sum(turns)
        if motif.a_turn:
            # The stitches of a spiral stand one above the other: only a whole turn brings each back.
            back = abs(turned - round(turned)) < 1e-4
        else:
            back = all(_comes_back(row, turned) for row in rows)
        if back:
            return repeats * len(rows)
    return None


def _comes_back(row: Row, turned: float) -> bool:
    """Whether each stitch of a closed round, turned, falls on one with the same beads."""
    steps = turned * len(row.beads)
    shift = round(steps)
    first = shift % len(row.beads)
    return abs(steps - shift) < 1e-3 and row.beads == row.beads[-first:] + row.beads[:-first]
