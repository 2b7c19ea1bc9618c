"""Plans as makers write them: a TOML file, or a short form on the command line.

    repeat = false            # true: the stretches come again and again
    mirror = false            # true: the second half mirrors the first
    [[stretch]]
    rounds = 20               # or share = 0.25, or length = "4cm"; one may have none: it takes the rest
    body = "teal-deep"        # a role or letter = a bead's id or name, or a colour
    [[stretch]]
    share = 0.3
    fade = true               # bead by bead from the stretch before to the one after
    [[stretch]]
    body = "driftwood"

This is the one place where plan files are opened.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyser.errors import OptionError, PlanError
from analyser.files import read_typed
from analyser.motif.geometry import ROLES
from analyser.motif.plan import Plan, Stretch, even_fade
from analyser.motif.toml_text import Where, lines_of, syntax_fault
from analyser.stock import units

LARGEST_FILE = 100_000
MOST_STRETCHES = 500

_SIZES = ("rounds", "share", "length")
_LETTER = re.compile(r"[A-Z]")


def load(path: str | Path) -> Plan:
    """Read a plan from its file.

    Raises
    ------
    PlanError
        If it cannot be read, or at its first fault: with the line and the mend.
    """
    path = Path(path)
    return parse(read_typed(path, LARGEST_FILE, "a plan", error=PlanError), str(path))


def parse(text: str, file: str) -> Plan:
    """A plan from the text of its file; ``file`` is named in faults.

    Raises
    ------
    PlanError
        At the first fault: with the line and the mend.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(syntax_fault(str(error), text, file)) from error
    except RecursionError as error:
        raise PlanError(f"{file}: brackets within brackets without end; a plan has none") from error
    return _PlanText(lines_of(text), file).plan(data)


def text(plan: Plan) -> str:
    """A plan as the text of its file, which ``parse`` reads back to the same plan."""
    import tomlkit

    stretches = []
    for stretch in plan.stretches:
        sizes = {
            "rounds": stretch.rounds,
            "share": stretch.share,
            "length": None if stretch.length_mm is None else f"{stretch.length_mm!r}mm",
            "fade": stretch.fade or None,
        }
        told = {key: value for key, value in sizes.items() if value is not None}
        stretches.append({**told, **stretch.beads})
    return tomlkit.dumps({"repeat": plan.repeat, "mirror": plan.mirror, "stretch": stretches})


@dataclass(frozen=True, slots=True)
class _PlanText:
    """What faults are told by: the lines of the file, and its name."""

    lines: Mapping[Where, int]
    file: str

    def fault(self, where: Where, says: str) -> PlanError:
        at = where
        while at and at not in self.lines:
            at = at[:-1]
        place = f"{self.file}, line {self.lines[at]}" if at else self.file
        return PlanError(f"{place}: {says}")

    def plan(self, data: Mapping[str, Any]) -> Plan:
        for key in data:
            if key not in ("repeat", "mirror", "stretch"):
                raise self.fault((key,), f"{key!r} is unknown; a plan has repeat, mirror and [[stretch]]")
        repeat, mirror = (self.truth(data, (), key) for key in ("repeat", "mirror"))
        tables = data.get("stretch", [])
        if not isinstance(tables, list) or not all(isinstance(table, Mapping) for table in tables):
            raise self.fault(("stretch",), "write each stretch as a table of its own: [[stretch]]")
        if not tables:
            raise self.fault((), "no stretch in it; write at least one [[stretch]]")
        if len(tables) > MOST_STRETCHES:
            raise self.fault(
                (), f"{len(tables)} stretches; {MOST_STRETCHES} at most, repeat = true repeats them"
            )
        stretches = tuple(self.stretch(table, ("stretch", index)) for index, table in enumerate(tables))
        self.check(stretches, repeat)
        return Plan(stretches, repeat, mirror)

    def truth(self, table: Mapping[str, Any], where: Where, key: str) -> bool:
        value = table.get(key, False)
        if not isinstance(value, bool):
            raise self.fault((*where, key), f"{key} is true or false, got {value!r}")
        return value

    def stretch(self, table: Mapping[str, Any], where: Where) -> Stretch:
        sizes = [key for key in _SIZES if key in table]
        if len(sizes) > 1:
            raise self.fault(
                (*where, sizes[1]), f"give one of rounds, share, length; got {' and '.join(sizes)}"
            )
        beads: dict[str, str] = {}
        for key, value in table.items():
            if key in (*_SIZES, "fade"):
                continue
            role = role_of(key)
            if role is None:
                known = "rounds, share, length, fade, accent, body, third, or a letter of the motif"
                raise self.fault((*where, key), f"{key!r} is unknown; a stretch has {known}")
            if not isinstance(value, str) or not value.strip():
                raise self.fault(
                    (*where, key), f'{key} = "..." names a bead or colour in quotes, got {value!r}'
                )
            if role in beads:
                raise self.fault((*where, key), f"the {role} is named twice in this stretch")
            beads[role] = value.strip()
        fade = self.truth(table, where, "fade")
        if fade and beads:
            says = f"a fade takes its beads from the stretches beside it; name the {next(iter(beads))} there"
            raise self.fault((*where, next(iter(table))), says)
        return Stretch(
            beads,
            self.rounds(table, where),
            self.share(table, where),
            self.length(table, where),
            fade,
        )

    def rounds(self, table: Mapping[str, Any], where: Where) -> int | None:
        value = table.get("rounds")
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 100_000:
            raise self.fault((*where, "rounds"), f"rounds is a whole number from 0, got {value!r}")
        return value

    def share(self, table: Mapping[str, Any], where: Where) -> float | None:
        value = table.get("share")
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= 1:
            raise self.fault((*where, "share"), f"share is a part of the rope from 0 to 1, got {value!r}")
        return float(value)

    def length(self, table: Mapping[str, Any], where: Where) -> float | None:
        value = table.get("length")
        if value is None:
            return None
        if not isinstance(value, str):
            raise self.fault(
                (*where, "length"), f'length is text with its unit, such as "4cm", got {value!r}'
            )
        try:
            return units.length_mm(value)
        except OptionError as error:
            raise self.fault((*where, "length"), str(error)) from error

    def check(self, stretches: Sequence[Stretch], repeat: bool) -> None:
        open_ones = [index for index, stretch in enumerate(stretches) if stretch.takes_the_rest]
        if len(open_ones) > 1:
            says = "two stretches without rounds, share or length; only one can take the rest"
            raise self.fault(("stretch", open_ones[1]), says)
        shares = sum(stretch.share or 0.0 for stretch in stretches)
        if shares > 1.0 + 1e-9:
            raise self.fault((), f"the shares add up to {shares:g}; they can be 1 at most")
        for index, stretch in enumerate(stretches):
            if not stretch.fade:
                continue
            if all(other.fade for other in stretches):
                raise self.fault(("stretch", index), "a fade needs a stretch with beads to go to")
            if not repeat and index == 0:
                raise self.fault(("stretch", index), "a fade needs a stretch before it to come from")
            if not repeat and all(other.fade for other in stretches[index:]):
                raise self.fault(("stretch", index), "a fade needs a stretch after it to go to")


def role_of(key: str) -> str | None:
    """The role that a key of a stretch names, by its name or its letter; None if it names none.

    Examples
    --------
    >>> role_of("body"), role_of("B"), role_of("D"), role_of("bodi")
    ('body', 'body', 'D', None)
    """
    if key in ROLES.values():
        return key
    letter = key.upper() if len(key) == 1 else ""
    return ROLES.get(letter, letter) if _LETTER.fullmatch(letter) else None


def fade(text: str) -> Plan:
    """The plan of the short form ``body=teal-deep..driftwood..coral-dusk``: one even course over the rope.

    Raises
    ------
    PlanError
        If it is not of that form.

    Examples
    --------
    >>> [stretch.share for stretch in fade("body=teal-deep..coral-dusk").stretches]
    [0.1, 0.8, 0.1]
    """
    role, beads = _short(text, "..", "--fade body=FROM..TO, with as many beads between as wanted")
    return even_fade(role, beads)


def bands(rounds: int, text: str) -> Plan:
    """The plan of the short form ``8 accent=coral-dusk,honey-jar``: bands of so many rounds, again and again.

    Raises
    ------
    PlanError
        If it is not of that form, or ``rounds`` is below 1.
    """
    if rounds < 1:
        raise PlanError(f"--bands: a band has 1 round or more, got {rounds}")
    role, beads = _short(text, ",", "--bands ROUNDS accent=ONE,OTHER")
    return Plan(tuple(Stretch({role: bead}, rounds=rounds) for bead in beads), repeat=True)


def _short(text: str, between: str, form: str) -> tuple[str, list[str]]:
    name, sign, rest = text.partition("=")
    role = role_of(name.strip())
    beads = [bead.strip() for bead in rest.split(between)]
    if not sign or role is None or len(beads) < 2 or not all(beads):
        raise PlanError(f"expected {form}; got {text!r}")
    return role, beads
