"""Calibrations by each kind of reference: a chart, one card or two, white paper, or nothing.

Each takes what was found and says what follows; what is looked for and in which order is for ``calibration``.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import lab_to_linear, relative_luminance
from analyser.errors import CalibrationError
from analyser.photo import chart, quality, uncertainty
from analyser.photo.calibration_result import Calibration, Ground
from analyser.photo.cards import SeenCard
from analyser.photo.chart import Correction
from analyser.photo.chart_finding import find_chart
from analyser.photo.illumination import IlluminationField
from analyser.photo.light_evidence import LightEvidence, light_evidence
from analyser.photo.reading import Photo
from analyser.photo.reference import Reference
from analyser.photo.sheet import find_sheet
from analyser.photo.uncertainty import Doubt

# Stated doubts, CIEDE2000 (68 %), of the light and of a colour's own: fitted to drawn flat-lays with phone
# look (tone curve, colour, JPEG) under six lamps, benchmarks/uncertainty.py.
_ONE_CARD_DE00 = (1.0, 4.4)  # the camera's curve and colour are not known
# Where a table shows how the light falls off, less is left: 123 piles of drawn trays, half through a phone.
_ONE_CARD_ON_TABLE_DE00 = (1.0, 1.7)
# The ratio of two cards shows the camera's curve (log, off five). A camera that leaves it as it is leaves
# colour as it is too, so all but the light's doubt grows with that look: to a colour's own, to what a vivid
# one errs more, and with the bend itself. Light that could not be evened out is known at the cards alone.
_TWO_CARDS_DE00, _PER_BEND_DE00, _VIVID_DE00, _UNEVEN_DE00 = (0.7, 1.3), 6.5, 3.3, 3.3
_LOOK_SHOWS = 0.03  # bend at which most of a camera's look is to be expected
_EITHER_DE00 = 15.0  # half the time a card of doubtful kind is taken for the other, 35 off at the middle
_PAPER_DE00 = (1.0, 3.3)  # papers reflect 0.78 to 0.92, bluish to cream
_UNLEARNT_DE00 = (1.6, 4.4)  # a sheet's paper serves as a white card does, but for its own tint
_NONE_OWN_DE00 = 3.7
_CHART_LIGHT = 0.4  # of a chart's doubt that is the light's; the patches' errors are mostly their own
# What a chance of 1 of being wrong would add: at 0.1, where the median error is then 9, the 68 % bound of
# right and wrong together lies a tenth further out.
_WRONG_REFERENCE_DE00 = 17.0
_UNSEEN = 1.25  # colours off the chart err more than left-out patches do
# Charts of one printing differ among themselves by about that much (common practice, no source).
_CHART_AT_LEAST_DE00 = 0.35
_PAPER_REFLECTANCE = 0.86
_DARKEST_PAPER = 0.02  # linear: darker than this its tint is lost in noise, whatever it is

_CURVED = 0.03  # log by which two cards may miss their ratio before a camera curve is assumed
_CHART_SURE = 0.99
_CAST_TOLD = 0.12  # log tint of the light, about 5 CIEDE2000, from which it is told
_NO_CHART_DE00 = 12.0  # left-out patches further off than this on average are no chart's
_NO_WORSE = 1.05  # an illumination field is kept if what confirms it fits at most this much worse


@dataclass(frozen=True, eq=False)
class Scene:
    """A photo, the illumination field that its ground suggests, and what speaks for it.

    ``even_light``: maker or sheet vouch for it; ``on_table``: tables are plain as a rule.
    """

    photo: Photo
    field: IlluminationField | None
    even_light: bool
    on_table: bool = False
    ground: Ground | None = None

    @cached_property
    def light(self) -> LightEvidence:
        """What the photo tells of its light."""
        return light_evidence(self.photo.linear, usable(self.photo))

    def told(self, remarks: tuple[str, ...], found: Calibration) -> tuple[str, ...]:
        """The remarks, and what became of uneven light."""
        if self.field is None or (self.field.ratio <= quality.UNEVEN and self.field.cast_ratio <= 1):
            return remarks
        if found.field is not None:
            return (*remarks, "the uneven light was evened out by the background")
        return (
            *remarks,
            "the light was left as it is; if the ground is one plain stuff, --even-light evens it",
        )


def by_chart(scene: Scene) -> Calibration | None:
    """By a 24-patch chart, if there is one; raises CalibrationError if it is burnt out."""
    photo, field = scene.photo, scene.field
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
        if _left_out(evened) <= _left_out(fit) * _NO_WORSE:
            fit = evened
        else:
            field = None
    if _left_out(fit) > _NO_CHART_DE00:
        return None
    found_it = f"24-patch chart found, the values of its {fit.edition} printing fit best"
    notes = [found_it, _SAYS[fit.mixing] + _SAYS_TONE[fit.tone]]
    if not used.all():
        notes.append(f"{int((~used).sum())} overexposed patches of the chart were left out")
    errors = fit.left_out_de00[used]
    errors_unseen = np.maximum(_UNSEEN * errors, _CHART_AT_LEAST_DE00)
    general = float(np.percentile(errors_unseen, 68))
    notes.append(f"patches the fit had not seen came out {errors.mean():.1f} CIEDE2000 off on average")
    light, own = _CHART_LIGHT * general, float(np.sqrt(1 - _CHART_LIGHT**2)) * general
    doubt = Doubt(light, own, chart.editions()[fit.edition][used], errors_unseen)
    reference = Reference("chart", corners * [photo.width, photo.height], _CHART_SURE, True)
    told = tuple(notes)
    return Calibration(
        "chart", general, told, fit.correction, field, doubt, corners[None], reference=reference
    )


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


def from_cards(cards: tuple[SeenCard, ...], chance: float, scene: Scene) -> Calibration:
    """White balance and exposure from one card; from two also the exponent of the camera's curve."""
    photo = scene.photo
    height, width = photo.linear.shape[:2]
    corners = np.stack([card.corners for card in cards]) / [width, height]
    field = scene.field
    if field is not None:
        field = field.anchored(*corners[0].mean(axis=0))
        alone = len(cards) == 1  # with nothing that could speak against the field
        vouched = scene.even_light or (alone and scene.on_table)
        if not (vouched or (not alone and _confirmed(cards, field, width, height))):
            field = None
    light = [card.light(field, width, height) for card in cards]
    notes = [note for card in cards for note in card.notes]
    gain, exponent = cards[0].reflectance / light[0], 1.0
    evened_by_table = scene.on_table and field is not None
    light_de00, own = _ONE_CARD_ON_TABLE_DE00 if evened_by_table else _ONE_CARD_DE00
    vivid = 0.0
    if len(cards) == 2:
        measured = float(np.log(relative_luminance(light[0]) / relative_luminance(light[1])))
        true = float(np.log(cards[0].reflectance / cards[1].reflectance))
        exponent, bend = true / measured, abs(measured - true)
        look = 1 - float(np.exp(-bend / _LOOK_SHOWS))
        light_de00, vivid = _TWO_CARDS_DE00[0], _VIVID_DE00 * look
        uneven = _UNEVEN_DE00 if field is None else 0.0
        own = float(np.linalg.norm([_TWO_CARDS_DE00[1] * look, _PER_BEND_DE00 * bend, uneven]))
        if bend < _CURVED:
            exponent = 1.0
        else:
            notes.append("the camera's tone curve was straightened by the two cards")
        gains = [card.reflectance / seen**exponent for card, seen in zip(cards, light, strict=True)]
        gain = np.sqrt(gains[0] * gains[1]) ** (1 / exponent)
    curve = np.array([[exponent - 1] * 3, [0.0] * 3])
    correction = Correction(gain, curve, (float(np.log(0.01)), 0.0), np.eye(3))
    says = " and ".join(f"{card.kind} card (reflectance {card.reflectance:g})" for card in cards)
    clipped = max(card.clipped for card in cards)
    wrong_kind = _EITHER_DE00 if cards[0].either else 0.0
    wrong = _WRONG_REFERENCE_DE00 * (1 - chance)
    doubt = uncertainty.flat(
        float(np.linalg.norm([light_de00, 20 * clipped, wrong_kind, wrong])),
        own,
        vivid,
    )
    kind: Literal["white-card", "grey-card"] = "white-card" if cards[0].kind == "white" else "grey-card"
    outline, *partner = corners * [photo.width, photo.height]
    return Calibration(
        kind,
        doubt.general_de00,
        (f"{says} used for white balance and exposure", *notes),
        correction,
        field,
        doubt,
        corners,
        reference=Reference("cards" if partner else kind, outline, chance, True, *partner),
    )


def _confirmed(cards: tuple[SeenCard, ...], field: IlluminationField, width: int, height: int) -> bool:
    """Whether two cards bear a field out: evened by it they agree no worse than as they are."""

    def misfit(seen: list[FloatArray]) -> float:
        ratio = np.log(seen[0] / seen[1] / (cards[0].reflectance / cards[1].reflectance))
        return float(np.linalg.norm(ratio))

    evened = misfit([card.light(field, width, height) for card in cards])
    return evened <= _NO_WORSE * misfit([card.linear for card in cards]) + _CURVED


def by_paper(scene: Scene, chance: float) -> Calibration | None:
    """By a plain ground that is white paper with that chance; None without one, or in the dark."""
    photo, field = scene.photo, scene.field
    if field is None or relative_luminance(field.background_linear) < _DARKEST_PAPER:
        return None
    correction = Correction(
        _PAPER_REFLECTANCE / field.background_linear, np.zeros((2, 3)), (-1.0, 0.0), np.eye(3)
    )
    notes = (
        "white paper under the piece used for white balance and exposure",
        "the paper's own tint is unknown: papers run from cream to bluish, so colours may lean that way",
    )
    wrong = _WRONG_REFERENCE_DE00 * (1 - chance)
    doubt = uncertainty.flat(float(np.hypot(_PAPER_DE00[0], wrong)), _PAPER_DE00[1])
    frame = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [photo.width, photo.height]
    reference = Reference("paper", frame, chance, True)
    return Calibration(
        "paper", doubt.general_de00, notes, correction, field, doubt, np.zeros((0, 4, 2)), reference=reference
    )


def by_nothing(scene: Scene, remarks: tuple[str, ...], asked: Reference | None = None) -> Calibration:
    """Colours as the file has them; how wrong they may be is told from the evidence for a cast."""
    light = scene.light
    notes = []
    if asked is None:
        notes.append("nothing to calibrate by: put a grey or white card, or a chart, into the picture")
    cast = light.tint
    if np.hypot(*cast) > _CAST_TOLD:
        notes.append(
            f"hint, not applied: the light looks {quality.tint_words(np.exp([cast[0], 0.0, cast[1]]))}"
        )
    doubt = uncertainty.without_reference(light, _NONE_OWN_DE00)
    field = scene.field if scene.even_light or scene.on_table else None
    found = Calibration(
        "none",
        doubt.general_de00,
        (),
        None,
        field,
        doubt,
        np.zeros((0, 4, 2)),
        reference=None if asked is None else asked.unapplied(),
    )
    return dataclasses.replace(found, notes=(*notes, *scene.told(remarks, found)))


def find_ground(photo: Photo) -> tuple[Ground | None, tuple[str, ...]]:
    """The photo sheet the photo was taken on, and what there is to say of one."""
    sheet, missing = find_sheet(photo)
    if sheet is None:
        return None, (missing,) if missing else ()
    from analyser.photo.sheet_light import sheet_light

    if not sheet.is_ground and sheet.has_neighbour:
        return None, (_TWO_SHEETS.format("neither was used"),)
    if not sheet.is_ground:
        return None, ("a photo sheet lies in the background; it was not used",)
    one = "what lies beyond the free room of one was left out"
    says = (_TWO_SHEETS.format(one),) if sheet.has_neighbour else ()
    light = sheet_light(photo, sheet)
    if light is None:
        return Ground(sheet, None), (
            *says,
            "the photo sheet tells millimetres, but its paper is overexposed or hidden, so not the light",
        )
    return Ground(sheet, light), (*says, *light.notes)


_TWO_SHEETS = (
    "two photo sheets are in sight: {}; lay all on one sheet, a long rope along the bent channel of "
    "--layout rope"
)


def by_sheet(scene: Scene) -> Calibration | None:
    """By the cards on the sheet, else by its learnt paper, else by its paper as any white paper."""
    ground = scene.ground
    if ground is None or ground.light is None:
        return None
    sheet, light = ground.sheet, ground.light
    boxes = [*(sheet.layout.marks[number] for number in sheet.seen), *sheet.layout.frames]
    outline = np.stack([sheet.to_px(box.corners) for box in boxes]) / sheet.frame_px
    if light.cards:
        by_cards = from_cards(light.cards, 1.0, scene)
        return dataclasses.replace(by_cards, method="sheet", outline=outline)
    name = sheet.layout.name
    from analyser.photo import papers

    learnt = papers.known().get(name)
    if learnt is not None:
        white: FloatArray = np.array(learnt.white_linear)
        doubts = _ONE_CARD_DE00
        notes: tuple[str, ...] = (
            f"the photo sheet's paper {name}, learnt {learnt.learnt}, used for white balance and exposure",
        )
    else:
        white, doubts = np.full(3, _PAPER_REFLECTANCE), _UNLEARNT_DE00
        notes = (
            "the photo sheet's white paper used for white balance and exposure",
            f"the tint of paper {name} is not learnt: papers run from cream to bluish, so colours may lean "
            "that way; lay a white card on its frame, or learn the paper once with: analyser sheet --learn",
        )
    correction = Correction(white / light.field.background_linear, np.zeros((2, 3)), (-1.0, 0.0), np.eye(3))
    doubt = uncertainty.flat(*doubts)
    return Calibration("sheet", doubt.general_de00, notes, correction, light.field, doubt, outline, ground)


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
    ground, says = find_ground(photo)
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


def usable(photo: Photo) -> BoolArray:
    """Pixels that are neither clipped nor hidden, shape (h, w)."""
    return ~photo.clipped if photo.opaque is None else ~photo.clipped & photo.opaque
