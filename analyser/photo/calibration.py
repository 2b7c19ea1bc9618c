"""From a photo's numbers to colour: chart, sheet, card, paper or nothing, with its uncertainty.

The whole photo is looked at, whatever is framed. Corrections act on linear light with sRGB primaries. What is
likely a card but not surely is told, not used; uneven light is divided out only where something confirms
that the ground is one plain stuff.
"""

from __future__ import annotations

import dataclasses

from analyser.errors import CalibrationError
from analyser.photo import by_reference, quality
from analyser.photo.by_reference import paper_white
from analyser.photo.calibration_result import Calibration, Ground
from analyser.photo.card_evidence import paper_chance
from analyser.photo.card_finding import surface_round
from analyser.photo.cards import Card, card_in_box
from analyser.photo.illumination import IlluminationField, illumination_field
from analyser.photo.reading import Photo
from analyser.photo.reference import SURE, WORTH_ASKING, find_cards

__all__ = ["Calibration", "Card", "Ground", "calibrate", "paper_white"]

# What lamps over a table do at most: four times the light at the near end, half as much red to blue again.
_STEEPEST_LIGHT, _MOST_MIXED = 4.0, 1.6


def calibrate(
    photo: Photo,
    method: str = "auto",
    card: Card | None = None,
    *,
    no_card: bool = False,
    even_light: bool = False,
    on_table: bool = False,
) -> Calibration:
    """Find what the photo can be calibrated by, and fit it.

    Parameters
    ----------
    photo : Photo
        At any reading size; a million pixels are plenty, three find a chart that is small in the frame.
    method : str
        ``auto`` takes a chart, else a photo sheet, else a card or white paper that is one for sure, else
        nothing; ``chart``, ``sheet``, ``card`` and ``paper`` insist; ``none`` leaves every pixel as it is.
    card : Card, optional
        Where a card lies; with ``auto`` it is then used before anything else.
    no_card : bool
        What looks like a card or paper is none.
    even_light : bool
        The ground is one plain stuff, so what varies slowly over it is light, and is divided out. Otherwise
        that is done only where a chart, two cards or white paper confirm it.
    on_table : bool
        What is photographed lies on a table: its ground is taken for one plain stuff unless a chart or two
        cards speak against it.

    Raises
    ------
    CalibrationError
        If what was asked for is not in the photo or cannot be used, or the method has no such name.
    OptionError
        If the card's box lies outside the photo.
    """
    if method not in ("auto", "chart", "sheet", "card", "paper", "none"):
        raise CalibrationError(f"--calibration is auto, chart, sheet, card, paper or none; got {method!r}")
    ground, remarks = by_reference.find_ground(photo)
    if ground is None or ground.light is None:
        scene = by_reference.Scene(photo, _bounded(illumination_field(photo)), even_light, on_table, ground)
    else:
        scene = by_reference.Scene(photo, ground.light.field, True, True, ground)
    remarks += quality.remarks(photo, scene.field)
    found = _found(scene, remarks, method, card, no_card)
    return dataclasses.replace(found, ground=ground)


def _found(
    scene: by_reference.Scene, remarks: tuple[str, ...], method: str, card: Card | None, no_card: bool
) -> Calibration:
    """By the first of the references, in order of how much they tell, that is there."""
    photo = scene.photo
    if method == "none":
        return by_reference.by_nothing(scene, remarks)
    if card is not None and method in ("auto", "card"):
        seen = card_in_box(photo, card)
        corners = surface_round(photo.linear, photo.clipped, seen.corners, seen.linear)
        if corners is not None:  # all of the card is no colour of the photo, not the box alone
            seen = dataclasses.replace(seen, corners=corners)
        found = by_reference.from_cards((seen,), 1.0, scene)
        return dataclasses.replace(found, notes=found.notes + scene.told(remarks, found))
    refused = False
    if method in ("auto", "chart"):
        try:
            by_chart = by_reference.by_chart(scene)
        except CalibrationError as error:
            if method != "auto":
                raise
            remarks = (str(error), *remarks)
            refused, by_chart = True, None  # a burnt-out chart's greys would pass for cards
        if by_chart is not None:
            return dataclasses.replace(by_chart, notes=by_chart.notes + scene.told(remarks, by_chart))
    by_sheet = by_reference.by_sheet(scene) if method in ("auto", "sheet") and not refused else None
    if by_sheet is not None:
        return dataclasses.replace(by_sheet, notes=by_sheet.notes + scene.told(remarks, by_sheet))
    likely = None
    if method in ("auto", "card", "paper") and not (refused or no_card):
        likely = _likely(scene, method)
    if likely is not None and (likely.reference is None or likely.reference.sure >= SURE or method != "auto"):
        return dataclasses.replace(likely, notes=likely.notes + scene.told(remarks, likely))
    if method != "auto":
        raise CalibrationError(f"{photo.file}: {_NOT_FOUND[method]}")
    asked = None if likely is None else likely.reference
    return by_reference.by_nothing(scene, remarks, asked)


def _bounded(field: IlluminationField | None) -> IlluminationField | None:
    """The field, if it is one that lamps over a table make."""
    if field is None or field.ratio > _STEEPEST_LIGHT or field.cast_ratio > _MOST_MIXED:
        return None
    return field


def _likely(scene: by_reference.Scene, method: str) -> Calibration | None:
    """By the most likely card or paper, whichever is likelier; its reference says how sure it is."""
    light = scene.light
    cards, chance = find_cards(scene.photo, light, scene.field) if method != "paper" else ((), 0.0)
    paper = paper_chance(light, scene.field) if method != "card" else 0.0
    if cards and (chance >= SURE or chance >= paper):
        return by_reference.from_cards(cards, chance, scene)
    if method == "paper" and scene.field is not None:
        paper = max(paper, SURE)
    return by_reference.by_paper(scene, paper) if paper >= WORTH_ASKING else None


_NOT_FOUND = {
    "chart": "no 24-patch chart was found; show all of it, in focus, a tenth of the picture wide or more",
    "sheet": "no photo sheet was found under what is photographed, or its paper is overexposed or hidden",
    "card": "no grey or white card was found; say where it lies with --card x,y,width,height",
    "paper": "no plain white paper was found round the piece",
}
