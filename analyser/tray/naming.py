"""Measured piles get ids and names, and become beads for the stock list."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from analyser.errors import OptionError
from analyser.files import LARGEST_TYPED, read_typed
from analyser.stock.bead import Bead
from analyser.tray.measuring import Tray

#: What stands in the place of an id for a pile that is not to go in the list.
SKIP = "-"


@dataclass(frozen=True, slots=True)
class PileName:
    """What the maker calls a pile.

    Attributes
    ----------
    id, name : str
        As they go in the list; without a name the id.
    lot : str
        ``""`` if none is given.
    """

    id: str
    name: str
    lot: str = ""

    @classmethod
    def parse(cls, text: str) -> PileName | None:
        """Read ``id``, ``id;name`` or ``id;name;lot`` (``;``, ``,`` or a tab between); None for ``-``.

        Examples
        --------
        >>> PileName.parse("tide-pool; Tide pool")
        PileName(id='tide-pool', name='Tide pool', lot='')
        >>> PileName.parse("-") is None
        True
        """
        sign = next((mark for mark in (";", "\t", ",") if mark in text), ";")
        parts = [" ".join(part.split()) for part in text.split(sign)]
        if parts[0] == SKIP and not any(parts[1:]):
            return None
        if not parts[0] or len(parts) > 3:
            raise OptionError(f"expected id, id;name or id;name;lot, or {SKIP} to leave out; got {text!r}")
        name = parts[1] if len(parts) > 1 and parts[1] else parts[0]
        return cls(parts[0], name, parts[2] if len(parts) > 2 else "")


def read_names(
    path: str | Path, numbers: Sequence[int], *, by_place: bool = False
) -> tuple[PileName | None, ...]:
    """Read a file of names: one line a pile in reading order, or one for each place of a photo sheet.

    Parameters
    ----------
    path : str or Path
        UTF-8 text; empty lines and lines that begin with ``#`` do not count.
    numbers : sequence of int
        Of the piles.
    by_place : bool
        The n-th line is for the pile of number n, and there may be lines for places without a pile.

    Returns
    -------
    tuple of PileName or None
        For each pile; None where it is not to go in the list.

    Raises
    ------
    OptionError
        If the file cannot be read, has a line that is no name or one twice, or not a line for each pile;
        by place, also if two piles lie at one.
    """
    names = _lines(path)
    if not by_place:
        if len(names) != len(numbers):
            raise OptionError(
                f"{path} names {len(names)} piles, the photo shows {len(numbers)}; give one line a pile, "
                f"rows from the top, each from the left, and {SKIP} for a pile to leave out"
            )
        return tuple(names)
    twice = next((number for number in numbers if list(numbers).count(number) > 1), None)
    if twice is not None:
        raise OptionError(f"two piles lie at place {twice} of the sheet; keep one to a place to name them")
    if len(names) < max(numbers):
        raise OptionError(
            f"{path} names {len(names)} places, but a pile lies at place {max(numbers)} of the sheet; give a "
            f"line for each place, and {SKIP} for one to leave out"
        )
    return tuple(names[number - 1] for number in numbers)


def _lines(path: str | Path) -> list[PileName | None]:
    """The names of a file, a line each."""
    text = read_typed(Path(path), LARGEST_TYPED, "a list of names")
    names: list[PileName | None] = []
    rows: dict[tuple[str, str], int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            name = PileName.parse(line)
        except OptionError as error:
            raise OptionError(f"{path}, line {number}: {error}") from error
        if name is not None:
            key = name.id.casefold(), name.lot.casefold()
            if key in rows:
                raise OptionError(f"{path}, line {number}: {name.id!r} stands in line {rows[key]} already")
            rows[key] = number
        names.append(name)
    return names


def suggested_id(name: str, taken: Sequence[str]) -> str:
    """An id made from an everyday colour name, unlike those taken.

    Examples
    --------
    >>> suggested_id("dusty teal", ["dusty-teal"])
    'dusty-teal-2'
    """
    base = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "bead"
    known = {text.casefold() for text in taken}
    number, made = 1, base
    while made in known:
        number += 1
        made = f"{base}-{number}"
    return made


def as_beads(tray: Tray, names: Sequence[PileName | None], size: str | None = None) -> tuple[Bead, ...]:
    """The named piles as beads, to be written in a list.

    Parameters
    ----------
    tray : Tray
    names : sequence of PileName or None
        One for each pile.
    size : str, optional
        ``"11/0"`` or ``"4mm"``, the same for all.
    """
    photo = Path(tray.photo.file).name
    guessed = "; colour a guess, nothing in the photo to go by" if tray.calibration.method == "none" else ""
    return tuple(
        Bead(
            id=name.id,
            name=name.name,
            size=size,
            finish=pile.finish,
            finishes=(pile.finish,),
            lab=pile.lab,
            lot=name.lot,
            uncertainty_de00=pile.uncertainty_de00,
            notes=f"pile {pile.number} of {photo}, finish guessed{guessed}",
        )
        for pile, name in zip(tray.piles, names, strict=True)
        if name is not None
    )
