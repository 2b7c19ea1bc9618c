"""Piles of beads in a tray photo become stock colours.

A stock colour is the mean linear light of a pile's bead pixels under an even sky, gloss and inner shadow
included; table and thread are left out, and channels burnt out in glints are put back as far as the others
tell them.
Lab means CIE 1976 L*a*b*, D65, 2 degree observer; pixels are those of the upright, full-size photo.

Sources
-------
[1] Shafer (1985), Color Res. Appl. 10(4), 210-218: light from a glossy surface is a mix of two colours,
    the body's and the lamp's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, Lab
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab, relative_luminance
from analyser.errors import PhotoError
from analyser.photo import even_sky
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.tray import finish as finish_guess
from analyser.tray.finding import Blob, find_blobs
from analyser.tray.outlining import CloseUp, Outlined, outline

F32 = npt.NDArray[np.float32]

#: Pixels to read a tray photo at: 24 piles then have a radius of a hundred.
READ_PIXELS = 4_000_000

_MOST = 24
_NONE_FOUND = (
    "no piles of beads were found; lay them apart on something plain, in focus, "
    "each at least a fortieth of the picture wide"
)
# Of the busy region, how much is beads, and how much the pile as a whole. Path-traced piles: 0.27 and 0.47
# at least; words written beside them 0.16 and 0.25, bold ones 0.39 of both, but those are long.
_BEADS_IN_BUSY = 0.22
_PILE_IN_BUSY, _LONG = 0.42, 1.8
_BURNT = 0.985  # of the file's white, from which a channel counts as burnt out
_AT_MOST_LINEAR = 2.0  # a burnt-out channel is not put back beyond that
_SPREAD_ON = 4000  # pixels are plenty for a mean difference
_MUCH_BURNT = 0.25  # share of burnt-out bead pixels above which the colour is called in doubt

_EVEN_SKY = {
    "opaque": even_sky.COATED,
    "matte": even_sky.COATED,
    "transparent": even_sky.GLASS_AND_METAL,
    "metallic": even_sky.GLASS_AND_METAL,
}
# What the pile itself leaves open, CIEDE2000 (68 %), beside its calibration: how far lamps differ in that,
# measured on path-traced heaps; and bead pixels told
# wrongly, where each chance of being wrong costs the same (300 drawn heaps that were not learnt from: 5 to 8,
# rank correlation with the error 0.51).
_PILE_DE00 = {"opaque": 0.8, "matte": 0.8, "transparent": 1.3, "metallic": 1.5}
_UNSURE_DE00 = 7.0


@dataclass(frozen=True, slots=True, eq=False)
class Pile:
    """One pile of beads, measured.

    Attributes
    ----------
    centre : tuple of float
        x, y of its middle.
    radius : float
        Of a disc with the area of its outline.
    outline : ndarray, shape (n, 2)
        Its outline as a polygon, x and y.
    lab : tuple of 3 float
        Its stock colour.
    spread_de00 : float
        Mean CIEDE2000 of its bead pixels to that colour.
    uncertainty_de00 : float
        About 68 % of such colours lie within this of the truth.
    finish : str
        A guess: ``opaque``, ``matte``, ``metallic`` or ``transparent``.
    pixels : int
        Bead pixels it was measured on, in full-size pixels.
    notes : tuple of str
    number : int
        From 1 in reading order; on a photo sheet that of its place.
    """

    centre: tuple[float, float]
    radius: float
    outline: FloatArray
    lab: Lab
    spread_de00: float
    uncertainty_de00: float
    finish: str
    pixels: int
    notes: tuple[str, ...] = ()
    number: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Tray:
    """The piles of a photo in reading order: rows from the top, each from the left.

    Attributes
    ----------
    photo : Photo
        With calibrated linear light.
    calibration : Calibration
    piles : tuple of Pile
    notes : tuple of str
    """

    photo: Photo
    calibration: Calibration
    piles: tuple[Pile, ...]
    notes: tuple[str, ...] = ()

    @property
    def numbers(self) -> tuple[int, ...]:
        """Of the piles."""
        return tuple(pile.number for pile in self.piles)

    @property
    def on_places(self) -> bool:
        """Whether the piles lie at the numbered places of a photo sheet."""
        return self.calibration.ground is not None and bool(self.calibration.ground.sheet.layout.places)


def measure(photo: Photo, calibration: Calibration) -> Tray:
    """Find and measure the piles of beads in a photo.

    Parameters
    ----------
    photo : Photo
        As read, at about ``READ_PIXELS``.
    calibration : Calibration
        Of that photo.

    Returns
    -------
    Tray

    Raises
    ------
    PhotoError
        If there is no pile of beads in it.
    """
    corrected = calibration.corrected(photo)
    excluded = _left_out(photo, calibration)
    blobs = find_blobs(photo.linear, excluded)
    if not blobs:
        raise PhotoError(f"{photo.file}: {_NONE_FOUND}")
    shape = photo.linear.shape[:2]
    taken = excluded.copy()
    for blob in blobs:
        taken |= _at(blob, shape)
    windows = [_look_closely(photo, corrected.linear, blob, taken) for blob in blobs]
    piles = _apart(
        [_measure_pile(window, calibration, photo.scale) for window in windows if window is not None]
    )
    if not piles:
        raise PhotoError(f"{photo.file}: {_NONE_FOUND}")
    notes = []
    if len(piles) > _MOST:
        notes.append(f"{len(piles)} piles were found; at most {_MOST} on one photo are measured well")
    piles, says = _numbered(_reading_order(piles), calibration)
    notes += says
    for pile in piles:
        notes += [f"pile {pile.number}: {note}" for note in pile.notes]
    return Tray(corrected, calibration, tuple(piles), tuple(notes))


def _apart(piles: list[Pile]) -> list[Pile]:
    """Without what lies in the hull of a larger pile: a part of it that was found by itself."""
    hulls = [cv2.convexHull(pile.outline.astype(np.float32)) for pile in piles]
    return [
        pile
        for pile in piles
        if not any(
            pile.radius < other.radius and cv2.pointPolygonTest(hull, pile.centre, False) > 0
            for other, hull in zip(piles, hulls, strict=True)
        )
    ]


def _numbered(piles: list[Pile], calibration: Calibration) -> tuple[list[Pile], list[str]]:
    """The piles with their numbers, and what there is to say: those of a sheet's places, if it has some."""
    places = calibration.ground.sheet.layout.places if calibration.ground else ()
    if calibration.ground is None or not places:
        return [replace(pile, number=number) for number, pile in enumerate(piles, start=1)], []
    middles = np.array([place.centre for place in places])
    at = calibration.ground.sheet.to_mm([pile.centre for pile in piles])
    numbers = 1 + np.hypot(*(at[:, None] - middles[None]).T).T.argmin(axis=1)
    said = [
        f"{(numbers == number).sum()} piles lie at place {number} of the sheet; keep one to a place"
        for number in np.unique(numbers)
        if (numbers == number).sum() > 1
    ]
    return [replace(pile, number=int(n)) for pile, n in zip(piles, numbers, strict=True)], said


def _left_out(photo: Photo, calibration: Calibration) -> BoolArray:
    """Where no pile can be: what the photo was calibrated by, off its sheet, and what alpha hides."""
    mask = calibration.reference_mask(photo.linear.shape)
    return mask if photo.opaque is None else mask | ~photo.opaque


def _at(blob: Blob, shape: tuple[int, ...]) -> BoolArray:
    grown = cv2.resize(blob.mask.astype(np.uint8), (shape[1], shape[0]), interpolation=cv2.INTER_NEAREST)
    return np.asarray(grown > 0)


@dataclass(frozen=True, slots=True, eq=False)
class _Window:
    """A pile's close-up.

    Attributes
    ----------
    light : ndarray, shape (n, n, 3)
        Calibrated linear light.
    burnt : ndarray, shape (n, n, 3)
        Share of each pixel that is burnt out in the file.
    found : Outlined
    at : CloseUp
    """

    light: F32
    burnt: F32
    found: Outlined
    at: CloseUp


def _look_closely(photo: Photo, linear: F32, blob: Blob, taken: BoolArray) -> _Window | None:
    """The close-up of a blob with its pile outlined; None where a closer look shows none."""
    whole = _at(blob, linear.shape[:2])
    at = CloseUp.of(blob, whole)
    light, roughly, elsewhere, burnt = (
        at.cut(np.asarray(layer, np.float32))
        for layer in (linear, whole, taken & ~whole, photo.linear >= _BURNT)
    )
    found = outline(light, roughly >= 0.5, elsewhere > 0)
    busy = float((roughly >= 0.5).sum())
    thin = found.whole.sum() < _PILE_IN_BUSY * busy and blob.length_to_width > _LONG
    if thin or found.beads.sum() < _BEADS_IN_BUSY * busy:
        return None
    return _Window(light, burnt, found, at)


def _measure_pile(window: _Window, calibration: Calibration, scale: float) -> Pile:
    """The pile of a window; ``scale`` is full-size pixels for one of the photo as read."""
    found = window.found
    pixels = window.light[found.beads].astype(np.float64)
    top = window.burnt[found.beads] > 0.02
    finish = finish_guess.guess(pixels)
    as_lit = _restore_burnt(pixels, top).mean(axis=0)
    lab = even_sky.bead_lab(as_lit, _EVEN_SKY[finish])
    some = np.clip(pixels[:: max(1, len(pixels) // _SPREAD_ON)], 0, None)
    notes = []
    burnt_share = float(top.any(axis=1).mean())
    if burnt_share > _MUCH_BURNT:
        notes.append(f"{burnt_share:.0%} of it is overexposed; photograph it a little darker")
    moved = float(delta_e_2000(linear_to_lab(as_lit), linear_to_lab(pixels.mean(axis=0))))
    shape = _polygon(found.whole)
    to_full = scale / window.at.shrink
    corner = np.array(window.at.corner) * scale
    area = float(cv2.contourArea(shape.astype(np.float32)))
    moments = cv2.moments(shape.astype(np.float32))
    middle = np.array([moments["m10"], moments["m01"]]) / max(moments["m00"], 1e-6)
    centre = middle * to_full + corner
    return Pile(
        centre=(float(centre[0]), float(centre[1])),
        radius=float(np.sqrt(area / np.pi) * to_full),
        outline=shape * to_full + corner,
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        spread_de00=float(delta_e_2000(even_sky.bead_lab(some, _EVEN_SKY[finish]), lab).mean()),
        uncertainty_de00=_uncertainty(calibration, lab, found, finish, moved),
        finish=finish,
        pixels=round(len(pixels) * to_full**2),
        notes=tuple(notes),
    )


def _restore_burnt(pixels: FloatArray, burnt: BoolArray) -> FloatArray:
    """Bead pixels with burnt-out channels put back from the others by the dichromatic model [1].

    Parameters
    ----------
    pixels : ndarray, shape (n, 3)
        Calibrated linear light, so that the lamp is neutral.
    burnt : bool ndarray, shape (n, 3)
        Channels at the file's top.

    Returns
    -------
    ndarray, shape (n, 3)
        No channel lower than it was.
    """
    sound = ~burnt.any(axis=1)
    if sound.all() or sound.sum() < 20:
        return pixels
    luminance = relative_luminance(pixels[sound])
    bright = pixels[sound][luminance >= np.median(luminance)]
    body = bright.mean(axis=0)
    whole = pixels.copy()
    for channel in range(3):
        others = [c for c in range(3) if c != channel]
        alone = burnt[:, channel] & ~burnt[:, others].any(axis=1)
        # body * depth + gloss = what the two sound channels show
        mix = np.stack([body[others], np.ones(2)], axis=1)
        if abs(np.linalg.det(mix)) > 0.02 * body.max():
            depth, gloss = np.linalg.solve(mix, pixels[alone][:, others].T)
            told = depth * body[channel] + gloss
        else:
            told = pixels[alone][:, others].mean(axis=1) * body[channel] / max(body[others].mean(), 1e-6)
        whole[alone, channel] = np.clip(told, pixels[alone, channel], _AT_MOST_LINEAR)
    return whole


def _uncertainty(
    calibration: Calibration, lab: FloatArray, found: Outlined, finish: str, moved_de00: float
) -> float:
    """Calibration, outline and finish, added as squares; half of what burnt-out pixels were given back."""
    parts = (
        float(calibration.uncertainty_of(lab)),
        _PILE_DE00[finish],
        _UNSURE_DE00 * found.unsure,
        0.5 * moved_de00,
    )
    return float(np.linalg.norm(parts))


def _polygon(whole: BoolArray) -> FloatArray:
    """The outline of a mask, a little smoothed, shape (n, 2), pixel centres at .5."""
    blur_px = max(0.5, 0.03 * float(np.sqrt(whole.sum() / np.pi)))
    smooth = cv2.GaussianBlur(whole.astype(np.float32), (0, 0), blur_px) > 0.5
    contours, _ = cv2.findContours(smooth.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outer = max(contours, key=cv2.contourArea)
    simple = cv2.approxPolyDP(outer, 0.7, True).reshape(-1, 2)
    return np.asarray(simple, np.float64) + 0.5


def _reading_order(piles: Sequence[Pile]) -> list[Pile]:
    """Rows from the top, each from the left, where rows may slant.

    The slant tried is that under which the piles fall most clearly into rows: the smallest sum of squared
    heights about their rows' means, a row being a run of piles with no gap of more than a radius and a half.
    """
    centres = np.array([pile.centre for pile in piles])
    reach = 0.8 * float(np.median([pile.radius for pile in piles]))
    best: tuple[float, list[list[int]]] | None = None
    for slant in sorted(np.linspace(-0.25, 0.25, 51), key=abs):
        height = centres[:, 1] - slant * centres[:, 0]
        order = np.argsort(height)
        rows = np.split(order, np.flatnonzero(np.diff(height[order]) > reach) + 1)
        within = sum(float(((height[row] - height[row].mean()) ** 2).sum()) for row in rows)
        # a row more costs as much as a pile that lies a reach off its row; a slant as a little of that
        cost = within + len(rows) * reach**2 + abs(slant) * reach**2
        if best is None or cost < best[0] - 1e-9:
            best = cost, [sorted(row.tolist(), key=lambda at: centres[at, 0]) for row in rows]
    assert best is not None
    rows_found = sorted(best[1], key=lambda row: float(np.mean(centres[row, 1])))
    return [piles[at] for row in rows_found for at in row]
