"""A batch as pages with small pictures, some hundred photos on each; a browser opens no page of 100,000."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyser.files import write_whole
from analyser.phrases import audits
from analyser.report import embedding, html

if TYPE_CHECKING:
    from analyser.batch.store import BatchStore, Outcome

ON_A_PAGE = 400
_SWATCHES = 8


@dataclass(frozen=True, slots=True)
class _Swatch:
    style: str
    says: str


@dataclass(frozen=True, slots=True)
class _Shown:
    path: str
    thumbnail: str
    line: str
    failed: bool
    swatches: tuple[_Swatch, ...]


def write_pages(
    folder: Path, verb: str, photos: Sequence[tuple[str, str]], store: BatchStore
) -> tuple[Path, Counter[str]]:
    """Write the pages of a batch; the first of them, and how many photos came to which state.

    Parameters
    ----------
    folder : Path
    verb : str
    photos : sequence of (str, str)
        Path and key of each, in their order.
    store : BatchStore

    Raises
    ------
    OptionError
        If a page cannot be written.
    """
    pages = max(1, math.ceil(len(photos) / ON_A_PAGE))
    counted = Counter[str]()
    faults = Counter[str]()
    first = folder / "summary.html"
    for number in range(pages, 0, -1):  # the first page last: it has the counts of all
        shown = []
        for path, key in photos[(number - 1) * ON_A_PAGE : number * ON_A_PAGE]:
            outcome = store.get(key)
            state = outcome.state if outcome else "missing"
            counted[state] += 1
            if outcome and outcome.state == "failed":
                faults[outcome.kind] += 1
            shown.append(_shown(verb, path, outcome))
        page = html.render(
            "batch.html",
            {
                "title": f"{verb.capitalize()} of {len(photos)} photo{'s' * (len(photos) != 1)}",
                "shown": shown,
                "number": number,
                "pages": [_name(one) for one in range(1, pages + 1)],
                "counted": dict(counted) if number == 1 else {},
                "faults": sorted(faults.items()) if number == 1 else [],
            },
        )
        write_whole(folder / _name(number), page)
    return first, counted


def _name(number: int) -> str:
    return "summary.html" if number == 1 else f"summary-{number}.html"


def _shown(verb: str, path: str, outcome: Outcome | None) -> _Shown:
    if outcome is None or outcome.answer is None:
        says = outcome.says.removeprefix(f"{path}: ") if outcome else "not done; run the batch again"
        return _Shown(path, outcome.thumbnail if outcome else "", says, True, ())
    line, swatches = _ABOUT[verb](outcome.answer)
    return _Shown(path, outcome.thumbnail, line, False, swatches)


def _palette(answer: Mapping[str, Any]) -> tuple[str, tuple[_Swatch, ...]]:
    colours = answer["colours"][:_SWATCHES]
    line = ", ".join(f"{colour['name']} {100 * colour['share']:.0f} %" for colour in colours[:3])
    return line, tuple(_swatch(colour["lab"], colour["name"]) for colour in colours)


def _colourway(answer: Mapping[str, Any]) -> tuple[str, tuple[_Swatch, ...]]:
    if not answer["pairs"]:
        return "no pair", ()
    beads = answer["pairs"][0]["beads"]
    swatches = tuple(_swatch(bead["lab"], bead["name"]) for bead in beads.values())
    return f"{beads['accent']['name']} on {beads['body']['name']}: {answer['pairs'][0]['says']}", swatches


def _audit(answer: Mapping[str, Any]) -> tuple[str, tuple[_Swatch, ...]]:
    said = [
        audits.verdict(
            piece["verdict"],
            {finding["kind"] for finding in piece["findings"]},
            asked="looks_planned" in piece,
        )
        for piece in answer["pieces"]
    ]
    lead = "" if len(said) == 1 else f"{len(said)} ropes: "
    swatches = tuple(
        _swatch(role["lab"], role["role"]) for piece in answer["pieces"] for role in piece["roles"]
    )
    return lead + "; ".join(said), swatches[:_SWATCHES]


_ABOUT = {"palette": _palette, "colourway": _colourway, "audit": _audit}


def _swatch(lab: Sequence[float], says: str) -> _Swatch:
    return _Swatch(embedding.css_declarations((lab[0], lab[1], lab[2])), says)
