"""The answer of ``analyser stock add`` as a JSON object; its shape is that of ``schemas/stock-add.json``."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from analyser.colour.names import everyday_name
from analyser.report import answers

if TYPE_CHECKING:
    from analyser.stock.list.adding import Written
    from analyser.tray.measuring import Pile, Tray


def stock_add_answer(
    tray: Tray, options: Mapping[str, Any], picture: Path | None, written: Written | None
) -> answers.Answer:
    """The answer of ``analyser stock add``: the piles in reading order, and what became of them.

    Parameters
    ----------
    tray : Tray
    options : mapping
        The options that held.
    picture : Path or None
        Where the numbered picture lies.
    written : Written or None
        What was written in the stock list; None if nothing was asked for.
    """
    return {
        **answers.head(options),
        "photo": answers.photo_fields(tray.photo),
        "calibration": answers.calibration_fields(
            tray.calibration, [pile.uncertainty_de00 for pile in tray.piles]
        ),
        "piles": [_pile(pile) for pile in tray.piles],
        "notes": list(tray.notes),
        "picture": None if picture is None else str(picture),
        "stock": None
        if written is None
        else {
            "file": str(written.path),
            "backup": None if written.backup is None else str(written.backup),
            "added": list(written.added),
            "replaced": list(written.replaced),
            "left_out": list(written.left_out),
            "filled": list(written.filled),
            "columns": list(written.columns),
        },
    }


def _pile(pile: Pile) -> answers.Answer:
    return {
        "number": pile.number,
        "centre": list(pile.centre),
        "radius": pile.radius,
        **answers.colour_fields(pile.lab),
        "spread_de00": pile.spread_de00,
        "uncertainty_de00": pile.uncertainty_de00,
        "finish": pile.finish,
        "name": everyday_name(np.asarray(pile.lab)),
        "pixels": pile.pixels,
        "outline": [[float(x), float(y)] for x, y in pile.outline],
        "notes": list(pile.notes),
    }
