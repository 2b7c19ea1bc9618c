"""What a worker does with tray photos."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from analyser.drawing.reference_view import photo_view
from analyser.errors import OptionError
from analyser.imaging import encoding
from analyser.photo import reading
from analyser.photo.calibration import calibrate
from analyser.report import trays
from analyser.stock import units
from analyser.stock.bead import Bead
from analyser.tray import measuring, naming
from analyser.tray.measuring import Tray
from analyser.tray.naming import PileName
from analyser.web import shown
from analyser.web.job_cache import LIMIT_MP, SHOWN_PX, Kept, card_told, light_key

Tell = Callable[..., None]
Wishes = Mapping[str, Any]

_TRAYS = Kept(2)


def tray_of(path: str, wishes: Wishes) -> Tray:
    """The piles of a photo, kept."""
    told = card_told(wishes)

    def read() -> Tray:
        photo = reading.read(path, about_pixels=measuring.READ_PIXELS, limit_mp=LIMIT_MP)
        return measuring.measure(
            dataclasses.replace(photo, file=Path(path).name), calibrate(photo, **told, on_table=True)
        )

    return _TRAYS.get((path, *light_key(wishes)), read)


def tray(tell: Tell, path: str, wishes: Wishes) -> dict[str, Any]:
    """Job of ``analyser stock add`` without a list: the piles of a tray photo."""
    tell("finding the piles")
    answer = trays.stock_add_answer(tray_of(path, wishes), {}, None, None)
    return {"answer": answer, "shown": shown.dressed(answer)}


def tray_photo(tell: Tell, path: str, wishes: Wishes) -> bytes:
    """The calibrated tray photo as a JPEG."""
    found = tray_of(path, wishes)
    return encoding.jpeg_bytes(photo_view(found.photo, found.calibration, SHOWN_PX), 86)


def named_piles(tell: Tell, path: str, wishes: Wishes, size: str, piles: list[dict[str, Any]]) -> list[Bead]:
    """Piles of a tray photo as beads for the list, under the maker's names."""
    found = tray_of(path, wishes)
    places = {pile.number: at for at, pile in enumerate(found.piles)}
    names: list[PileName | None] = [None] * len(found.piles)
    for pile in piles:
        if pile["number"] not in places:
            raise OptionError(f"there is no pile {pile['number']}; the photo shows {len(names)}")
        words = {part: " ".join(pile[part].split()) for part in ("id", "name", "lot")}
        if not words["id"]:
            raise OptionError(f"pile {pile['number']} has no id; give it one or leave it out")
        names[places[pile["number"]]] = PileName(words["id"], words["name"] or words["id"], words["lot"])
    return list(naming.as_beads(found, names, units.size(size)))
