"""From a photo's numbers to colour: chart, sheet, card, paper or nothing, with its uncertainty.

The whole photo is looked at, whatever is framed. Corrections act on linear light with sRGB primaries, after
uneven light is divided out where a plain background tells it.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab, relative_luminance
from analyser.errors import CalibrationError
from analyser.photo import chart, papers, quality, uncertainty
from analyser.photo.calibration_result import Calibration, Ground
from analyser.photo.cards import Card, SeenCard, card_in_box, find_cards
from analyser.photo.chart import Correction
from analyser.photo.chart_finding import find_chart
from analyser.photo.illumination import IlluminationField, illumination_field
from analyser.photo.reading import Photo
from analyser.photo.sheet import find_sheet
from analyser.photo.sheet_light import sheet_light
from analyser.photo.uncertainty import Doubt

__all__ = ["Calibration", "Card", "Ground", "calibrate"]


# Stated priors, CIEDE2000 (68 %). Orders of size on phones' JPEG: chart 3 to 5, card 5 to 6, none 6 and, with
# wrong exposure, 10 to 17; measured on drawn and rendered photos by benchmarks/uncertainty.py.
_ONE_CARD_DE00 = 4.5  # the camera's curve and colour are not known
_TWO_CARDS_DE00 = 1.7  # both agree: the curve is straight, and then the camera's colour mostly is too
_BENT_DE00 = 4.0  # the two cards show a camera's curve, so its colour is the camera's too
_EITHER_DE00 = 15.0  # half the time a card of doubtful kind is taken for the other, 35 off at the middle
_PAPER_DE00 = 4.5  # papers reflect 0.78 to 0.92, bluish to cream
_NONE_DE00 = 6.0
# Errors of drawn flat-lays with phone look under six lamps, beside those of the differences of their colours
# (synthetic/flatlays.py): behind a card or paper half of a doubt is the light's (1.8 of 3.7), and so it is
# taken for charts; without a reference all but a colour's own 3.7.
_LIGHTS_SHARE = 0.48
_NONE_OWN_DE00 = 3.7
_UNSEEN = 1.25  # colours off the chart err more than left-out patches do
_CHART_AT_LEAST_DE00 = 0.6  # half of what two printings of the chart differ by
_PAPER_REFLECTANCE = 0.86

# What lamps over a table do at most (common practice, no source): four times the light at the near end, half
# as much red to blue again.
_STEEPEST_LIGHT, _MOST_MIXED = 4.0, 1.6
_CURVED = 0.03  # log by which two cards may miss their ratio before a camera curve is assumed


def calibrate(photo: Photo, method: str = "auto", card: Card | None = None) -> Calibration:
    """Find what the photo can be calibrated by, and fit it.

    Parameters
    ----------
    photo : Photo
        At any reading size; a million pixels are plenty, three find a chart that is small in the frame.
    method : str
        ``auto`` takes a chart, else a photo sheet, else a card, else white paper, else nothing; ``chart``,
        ``sheet``, ``card`` and ``paper`` insist; ``none`` leaves every pixel as the camera gave it.
    card : Card, optional
        Where a card lies; with ``auto`` it is then used before anything else.

    Raises
    ------
    CalibrationError
        If what was asked for is not in the photo or cannot be used, or the method has no such name.
    OptionError
        If the card's box lies outside the photo.
    """
    ways: dict[str, tuple[Callable[[], Calibration | None], ...]] = {
        "auto": (
            lambda: _by_chart(photo, field),
            lambda: _by_sheet(photo, ground),
            lambda: _by_card(photo, field),
            lambda: _by_paper(photo, field),
        ),
        "sheet": (lambda: _by_sheet(photo, ground),),
        "chart": (lambda: _by_chart(photo, field),),
        "card": (lambda: _by_card(photo, field),),
        "paper": (lambda: _by_paper(photo, field),),
        "none": (),
    }
    if method not in ways:
        raise CalibrationError(f"--calibration is auto, chart, sheet, card, paper or none; got {method!r}")
    ground, remarks = _ground(photo)
    field = ground.light.field if ground and ground.light else _bounded(illumination_field(photo))
    remarks += quality.remarks(photo, field, evened=method != "none")
    if card is not None and method in ("auto", "card"):
        found = _from_cards((card_in_box(photo, card),), photo, field)
        return dataclasses.replace(found, notes=found.notes + remarks, ground=ground)
    for way in ways[method]:
        try:
            calibration = way()
        except CalibrationError as error:
            if method != "auto":
                raise
            remarks = (str(error), *remarks)
            break  # a chart too burnt out to use: then its greys would pass for cards
        if calibration is not None:
            return dataclasses.replace(calibration, notes=calibration.notes + remarks, ground=ground)
    if method not in ("auto", "none"):
        raise CalibrationError(f"{photo.file}: {_NOT_FOUND[method]}")
    kept = None if method == "none" else field
    return dataclasses.replace(_by_nothing(photo, kept, remarks), ground=ground)


def _bounded(field: IlluminationField | None) -> IlluminationField | None:
    """The field, if it is one that lamps over a table make; a sky at dusk or a dyed cloth is none."""
    if field is None or field.ratio > _STEEPEST_LIGHT or field.cast_ratio > _MOST_MIXED:
        return None
    return field


_NOT_FOUND = {
    "chart": "no 24-patch chart was found; show all of it, in focus, a tenth of the picture wide or more",
    "sheet": "no photo sheet was found under what is photographed, or its paper is overexposed or hidden",
    "card": "no grey or white card was found; say where it lies with --card x,y,width,height",
    "paper": "no plain white paper was found round the piece",
}


def _by_chart(photo: Photo, field: IlluminationField | None) -> Calibration | None:
    found = find_chart(photo, lab_to_linear(chart.editions()["older"]))
    if found is None:
        return None
    height, width = photo.linear.shape[:2]
    corners = found.outline() / [width, height]
    used = ~found.clipped
    if used.sum() < 12 or not used[chart.GREYS].any():
        raise CalibrationError(f"{photo.file}: the chart is overexposed; photograph it a little darker")
    fit = chart.fit(found.linear, used)
    if field is not None:
        field = field.anchored(*corners.mean(axis=0))
        evened = chart.fit(found.linear / field.at_points(found.centres() / [width, height]), used)
        # a background that is no plain one would make the patches fit worse
        if _left_out(evened) <= _left_out(fit) * 1.05:
            fit = evened
        else:
            field = None
    found_it = f"24-patch chart found, the values of its {fit.edition} printing fit best"
    notes = [found_it, _SAYS[fit.mixing] + _SAYS_TONE[fit.tone]]
    if not used.all():
        notes.append(f"{int((~used).sum())} overexposed patches of the chart were left out")
    errors = fit.left_out_de00[used]
    errors_unseen = np.maximum(_UNSEEN * errors, _CHART_AT_LEAST_DE00)
    general = float(np.percentile(errors_unseen, 68))
    notes.append(f"patches the fit had not seen came out {errors.mean():.1f} CIEDE2000 off on average")
    doubt = Doubt(general, _LIGHTS_SHARE, chart.editions()[fit.edition][used], errors_unseen)
    return Calibration("chart", general, tuple(notes), fit.correction, field, doubt, corners[None])


_SAYS = {
    "white balance": "white balance",
    "matrix": "white balance and 3 x 3 matrix",
    "root-polynomial": "white balance and root-polynomial of degree 2",
}
_SAYS_TONE = {
    "none": " fitted",
    "exponent": " fitted after a camera curve (one exponent)",
    "curve": " fitted after a camera curve",
    "curve per channel": " fitted after a camera curve for each channel",
}


def _left_out(fit: chart.ChartFit) -> float:
    return float(fit.left_out_de00[fit.used].mean())


def _ground(photo: Photo) -> tuple[Ground | None, tuple[str, ...]]:
    """The photo sheet the photo was taken on, and what there is to say of one."""
    sheet, says = find_sheet(photo)
    if sheet is None:
        return None, (says,) if says else ()
    if not sheet.is_ground:
        return None, ("a photo sheet lies in the background; it was not used",)
    light = sheet_light(photo, sheet)
    if light is None:
        return Ground(sheet, None), (
            "the photo sheet tells millimetres, but its paper is overexposed or hidden, so not the light",
        )
    return Ground(sheet, light), light.notes


def _by_sheet(photo: Photo, ground: Ground | None) -> Calibration | None:
    """By the cards on the sheet, else by its learnt paper, else by its paper as any white paper."""
    if ground is None or ground.light is None:
        return None
    sheet, light = ground.sheet, ground.light
    boxes = [*(sheet.layout.marks[number] for number in sheet.seen), *sheet.layout.frames]
    outline = np.stack([sheet.to_px(box.corners) for box in boxes]) / sheet.frame_px
    if light.cards:
        by_cards = _from_cards(light.cards, photo, light.field)
        return dataclasses.replace(by_cards, method="sheet", outline=outline)
    name = sheet.layout.name
    learnt = papers.known().get(name)
    if learnt is not None:
        white: FloatArray = np.array(learnt.white_linear)
        general = _ONE_CARD_DE00
        notes: tuple[str, ...] = (
            f"the photo sheet's paper {name}, learnt {learnt.learnt}, used for white balance and exposure",
        )
    else:
        white, general = np.full(3, _PAPER_REFLECTANCE), _PAPER_DE00
        notes = (
            "the photo sheet's white paper used for white balance and exposure",
            f"the tint of paper {name} is not learnt: papers run from cream to bluish, so colours may lean "
            "that way; lay a white card on its frame, or learn the paper once with: analyser sheet --learn",
        )
    correction = Correction(white / light.field.background_linear, np.zeros((2, 3)), (-1.0, 0.0), np.eye(3))
    return Calibration(
        "sheet",
        general,
        notes,
        correction,
        light.field,
        uncertainty.flat(general, _LIGHTS_SHARE),
        outline,
        ground,
    )


def paper_white(photo: Photo) -> tuple[str, FloatArray]:
    """Name of the paper of the sheet in a photo, and its white (3,) beside the white card on it.

    Returns
    -------
    str, ndarray
        Linear sRGB that the bare paper reflects.

    Raises
    ------
    CalibrationError
        If the photo was not taken on a sheet, or no white card lies on its frame.
    """
    ground, says = _ground(photo)
    if ground is None or ground.light is None:
        why = says[0] if says else "no photo sheet was found"
        raise CalibrationError(f"{photo.file}: {why}; show the whole sheet with a white card on its frame")
    height, width = photo.linear.shape[:2]
    for card in ground.light.cards:
        if card.kind == "white":
            ratio = ground.light.paper_at(card, width, height) / card.linear
            return ground.sheet.layout.name, card.reflectance * ratio
    why = says[0] if says else "no white card lies on the sheet's frame"
    raise CalibrationError(f"{photo.file}: {why}; lay one there so that it hides all four dots")


def _by_card(photo: Photo, field: IlluminationField | None) -> Calibration | None:
    cards = find_cards(photo, field)
    return _from_cards(cards, photo, field) if cards else None


def _from_cards(cards: tuple[SeenCard, ...], photo: Photo, field: IlluminationField | None) -> Calibration:
    """White balance and exposure from one card; from two also the exponent of the camera's curve."""
    height, width = photo.linear.shape[:2]
    corners = np.stack([card.corners for card in cards]) / [width, height]
    if field is not None:
        field = field.anchored(*corners[0].mean(axis=0))
    light = [card.light(field, width, height) for card in cards]
    notes = [note for card in cards for note in card.notes]
    gain, exponent = cards[0].reflectance / light[0], 1.0
    general = _ONE_CARD_DE00
    if len(cards) == 2:
        measured = float(np.log(relative_luminance(light[0]) / relative_luminance(light[1])))
        exponent = float(np.log(cards[0].reflectance / cards[1].reflectance)) / measured
        general = _TWO_CARDS_DE00
        if abs(np.log(exponent)) < _CURVED / measured:
            exponent = 1.0
        else:
            general = _BENT_DE00
            notes.append("the camera's tone curve was straightened by the two cards")
        gains = [card.reflectance / seen**exponent for card, seen in zip(cards, light, strict=True)]
        gain = np.sqrt(gains[0] * gains[1]) ** (1 / exponent)
    curve = np.array([[exponent - 1] * 3, [0.0] * 3])
    correction = Correction(gain, curve, (float(np.log(0.01)), 0.0), np.eye(3))
    says = " and ".join(f"{card.kind} card (reflectance {card.reflectance:g})" for card in cards)
    clipped = max(card.clipped for card in cards)
    wrong_kind = _EITHER_DE00 if cards[0].either else 0.0
    of_light = float(np.linalg.norm([_LIGHTS_SHARE * general, 20 * clipped, wrong_kind]))
    general = float(np.linalg.norm([general, 20 * clipped, wrong_kind]))
    return Calibration(
        "white-card" if cards[0].kind == "white" else "grey-card",
        general,
        (f"{says} used for white balance and exposure", *notes),
        correction,
        field,
        uncertainty.flat(general, of_light / general),
        corners,
    )


def _by_paper(photo: Photo, field: IlluminationField | None) -> Calibration | None:
    if field is None or not quality.is_white_paper(photo, field):
        return None
    correction = Correction(
        _PAPER_REFLECTANCE / field.background_linear, np.zeros((2, 3)), (-1.0, 0.0), np.eye(3)
    )
    notes = (
        "white paper under the piece used for white balance and exposure",
        "the paper's own tint is unknown: papers run from cream to bluish, so colours may lean that way",
    )
    return Calibration(
        "paper",
        _PAPER_DE00,
        notes,
        correction,
        field,
        uncertainty.flat(_PAPER_DE00, _LIGHTS_SHARE),
        np.zeros((0, 4, 2)),
    )


def _by_nothing(photo: Photo, field: IlluminationField | None, remarks: tuple[str, ...]) -> Calibration:
    """Colours as the file has them; how wrong they may be is guessed from how unlike daylight it looks."""
    cast, level = quality.grey_world(photo)
    grey = np.array([0.18, 0.18, 0.18])
    tinted_de00 = float(delta_e_2000(linear_to_lab(grey), linear_to_lab(grey * cast)))
    notes = ["nothing to calibrate by: put a grey or white card, or a chart, into the picture"]
    if tinted_de00 > 3:
        notes.append(
            f"hint, not applied: if the scene is grey on average, its light is {quality.tint_words(cast)} "
            f"(by about {tinted_de00:.0f} CIEDE2000)"
        )
    # slopes of the error on drawn scenes under five lights, half to fully exposed (least squares)
    tinted = max(tinted_de00 - 2, 0)
    underexposed = 8 * max(0.0, float(np.log(0.8 / max(level, 0.02))))
    general = float(np.linalg.norm([_NONE_DE00, tinted, underexposed]))
    doubt = uncertainty.flat(general, float(np.sqrt(1 - (_NONE_OWN_DE00 / general) ** 2)))
    return Calibration("none", general, (*notes, *remarks), None, field, doubt, np.zeros((0, 4, 2)))
