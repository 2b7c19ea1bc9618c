"""Results as the JSON objects of the command line: plain dicts, numbers as worked out, never NaN.

The shapes are those of the schemas in ``analyser/report/schemas``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from analyser import __version__
from analyser.phrases import photos

if TYPE_CHECKING:
    from analyser.colourway.matching import Matches, Matching
    from analyser.colourway.palette import Palette, PaletteColour
    from analyser.photo.calibration import Calibration, Ground
    from analyser.photo.reading import Photo
    from analyser.stock.stock import Stock

Answer = dict[str, Any]

SHEET_SURE = 0.999
"""Three marks that agree in place and of which any two differ by 11 bits are no chance."""


def head(options: Mapping[str, Any]) -> Answer:
    """The fields every answer opens with: schema, the tool's version, the options that held."""
    return {"schema": 1, "tool": __version__, "options": dict(options)}


def colour_fields(lab: Sequence[float]) -> Answer:
    """``hex``, ``in_srgb`` and ``lab`` of a colour (Lab, D65)."""
    from analyser.colour import gamut

    hex_code, in_srgb = gamut.lab_to_hex(lab)
    return {"hex": hex_code, "in_srgb": bool(in_srgb), "lab": [float(v) for v in lab]}


def photo_fields(photo: Photo) -> Answer:
    """The photo an answer speaks of, PHOTO of the schema."""
    return {
        "file": photo.file,
        "width": photo.width,
        "height": photo.height,
        "profile": photo.profile,
        "orientation": photo.orientation,
        "sha256": photo.sha256,
        "notes": list(photo.notes),
    }


def calibration_fields(calibration: Calibration, told_de00: Sequence[float] = ()) -> Answer:
    """How a photo's colours were corrected, CAL of the schema; ``told_de00`` are the doubts told with it."""
    return {
        "method": calibration.method,
        "uncertainty_de00": float(calibration.uncertainty_de00),
        "light_uncertainty_de00": float(calibration.light_uncertainty_de00),
        "reference": reference_fields(calibration),
        "says": photos.doubt(calibration, told_de00),
        "notes": [*photos.question(calibration), *calibration.notes],
        **(ground_fields(calibration.ground, calibration.method) if calibration.ground else {}),
    }


def reference_fields(calibration: Calibration) -> Answer | None:
    """What the photo shows of known colour, or may show, of the schema."""
    reference = calibration.reference
    if reference is None:
        return None
    return {
        "kind": reference.kind,
        "outline": [[float(x), float(y)] for x, y in reference.outline],
        "sure": float(reference.sure),
        "applied": reference.applied,
        "says": photos.about_card(calibration),
    }


def ground_fields(ground: Ground, method: str) -> Answer:
    """The photo sheet a photo was taken on: its outline in pixels, and the scale of the photo."""
    sheet = ground.sheet
    return {
        "reference": {
            "kind": "sheet",
            "outline": [[float(x), float(y)] for x, y in sheet.outline_px],
            "sure": SHEET_SURE,
            "applied": method == "sheet",
        },
        "mm_per_px": float(sheet.mm_per_px),
        "sheet": {
            "layout": sheet.layout.kind,
            "paper": sheet.layout.paper,
            "name": sheet.layout.name,
            "missing": list(sheet.missing),
        },
    }


def palette_colour(colour: PaletteColour) -> Answer:
    """One colour of a palette, COLOUR of the schema."""
    return {
        **colour_fields(colour.lab),
        "share": float(colour.share),
        "spread_de00": float(colour.spread_de00),
        "uncertainty_de00": float(colour.uncertainty_de00),
        "name": colour.name,
        "pixel": [int(v) for v in colour.pixel],
    }


def palette_answer(palette: Palette, options: Mapping[str, Any]) -> Answer:
    """The answer of ``analyser palette``."""
    return {
        **head(options),
        "photo": photo_fields(palette.photo),
        "calibration": calibration_fields(
            palette.calibration, [colour.uncertainty_de00 for colour in palette.colours]
        ),
        "colours": [palette_colour(colour) for colour in palette.colours],
        "background": palette_colour(palette.background) if palette.background else None,
        "notes": list(palette.notes),
    }


def matches_fields(matching: Matching) -> list[Answer]:
    """The nearest beads of each colour, ``matches`` of the schema."""
    return [_matches(matches) for matches in matching.colours]


def _matches(matches: Matches) -> Answer:
    from analyser.phrases import matches as says  # what ranks beads: not for answers without any

    return {
        "colour": {**colour_fields(matches.lab), "name": matches.name},
        "beads": [
            {
                "id": match.bead.id,
                "name": match.bead.name,
                **colour_fields(match.bead.lab or ()),
                "de00": match.de00,
                "verdict": match.verdict,
                "chance": match.chance,
                "says": says.bead(match),
                "uncertainty_de00": match.uncertainty_de00,
                "size": match.bead.size,
                "shape": match.bead.shape,
                "finish": match.bead.finish,
                "lot": match.bead.lot or None,
                "other_lots": [lot.lot for lot in match.other_lots],
            }
            for match in matches.beads
        ],
        "says": says.colour(matches),
        "of_one_bead": says.is_of_one(matches),
        "shop_for": None if matches.shop_for is None else matches.shop_for.hex,
    }


def match_answer(matching: Matching, stock: Stock, options: Mapping[str, Any]) -> Answer:
    """The answer of ``analyser match``."""
    from analyser.phrases import matches as says
    from analyser.report.list_answers import stock_notes

    return {
        **head(options),
        "matches": matches_fields(matching),
        "notes": [*stock_notes(stock), *(says.left_out(one) for one in matching.left_out)],
    }
