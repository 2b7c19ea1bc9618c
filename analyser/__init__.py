"""Colour for bead-woven rope jewellery, from measured photos.

What is named in ``__all__`` is the library's interface; everything else is private and may change. Names are
loaded when they are first used, so that ``import analyser`` costs nothing.

Examples
--------
Which beads of a box come near a colour, and how one pair reads in a motif:

>>> import analyser
>>> from pathlib import Path
>>> teal = analyser.Bead("teal-deep", "teal", "11/0", lab=(35.0, -10.0, -5.0))
>>> coral = analyser.Bead("coral-dusk", "coral", "11/0", lab=(55.0, 38.0, 25.0))
>>> box = analyser.Stock(Path("box.csv"), (teal, coral))
>>> found = analyser.nearest([(54.0, 37.0, 26.0)], box)
>>> found.colours[0].beads[0].bead.name, found.colours[0].beads[0].verdict
('coral', 'close')
>>> view = analyser.view_of(analyser.load_motif("chenille"))
>>> pair = analyser.measure([(55.0, 38.0, 25.0)], [(35.0, -10.0, -5.0)], view).one(0)
>>> round(pair.delta_l), pair.reads_to_m > 1.5
(20, True)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analyser.colour.difference import delta_e_2000
    from analyser.colourway.design import Colourway, Wishes, design
    from analyser.colourway.matching import Matching, nearest
    from analyser.colourway.measures import Measures, measure, view_of
    from analyser.colourway.pairing import Pair
    from analyser.colourway.palette import Palette
    from analyser.colourway.photo_palette import calibrated as read_calibrated
    from analyser.colourway.photo_palette import palette_of
    from analyser.errors import AnalyserError
    from analyser.motif.motif import Motif
    from analyser.motif.motif import load as load_motif
    from analyser.photo.box import Box
    from analyser.photo.calibration import Calibration, Card, calibrate
    from analyser.photo.reading import Photo
    from analyser.photo.reading import read as read_photo
    from analyser.piece.counting import BeadCount, count
    from analyser.stock.bead import Bead
    from analyser.stock.list.stock_list import Stock
    from analyser.stock.list.stock_list import read as read_stock

__version__ = "0.1.0"

__all__ = [
    "AnalyserError",
    "Bead",
    "BeadCount",
    "Box",
    "Calibration",
    "Card",
    "Colourway",
    "Matching",
    "Measures",
    "Motif",
    "Pair",
    "Palette",
    "Photo",
    "Stock",
    "Wishes",
    "calibrate",
    "count",
    "delta_e_2000",
    "design",
    "load_motif",
    "measure",
    "nearest",
    "palette_of",
    "read_calibrated",
    "read_photo",
    "read_stock",
    "view_of",
]

#: Module that holds a name, and what it is called there.
_HOMES = {
    "AnalyserError": ("errors", "AnalyserError"),
    "Bead": ("stock.bead", "Bead"),
    "BeadCount": ("piece.counting", "BeadCount"),
    "Box": ("photo.box", "Box"),
    "Calibration": ("photo.calibration", "Calibration"),
    "Card": ("photo.calibration", "Card"),
    "Colourway": ("colourway.design", "Colourway"),
    "Matching": ("colourway.matching", "Matching"),
    "Measures": ("colourway.measures", "Measures"),
    "Motif": ("motif.motif", "Motif"),
    "Pair": ("colourway.pairing", "Pair"),
    "Palette": ("colourway.palette", "Palette"),
    "Photo": ("photo.reading", "Photo"),
    "Stock": ("stock.list.stock_list", "Stock"),
    "Wishes": ("colourway.design", "Wishes"),
    "calibrate": ("photo.calibration", "calibrate"),
    "count": ("piece.counting", "count"),
    "delta_e_2000": ("colour.difference", "delta_e_2000"),
    "design": ("colourway.design", "design"),
    "load_motif": ("motif.motif", "load"),
    "measure": ("colourway.measures", "measure"),
    "nearest": ("colourway.matching", "nearest"),
    "palette_of": ("colourway.photo_palette", "palette_of"),
    "read_calibrated": ("colourway.photo_palette", "calibrated"),
    "read_photo": ("photo.reading", "read"),
    "read_stock": ("stock.list.stock_list", "read"),
    "view_of": ("colourway.measures", "view_of"),
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, attribute = _HOMES[name]
    return getattr(import_module(f"{__name__}.{module}"), attribute)
