"""The reduced palette of a photo.

Distances and clusters live in Lab, the colour of a cluster is the mean of its light. Nothing here opens a
file. Where to put the centres is decided on a small, evenly averaged picture, on which a photo, its half-size
copy and its JPEG agree; the colours themselves are read from all the pixels.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, Lab
from analyser.colour import spaces
from analyser.colour.difference import delta_e_2000
from analyser.colour.names import everyday_names
from analyser.colourway import accents, clustering, separation
from analyser.errors import OptionError, PhotoError
from analyser.imaging.downscale import downscale_masked
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.photo.subject import Subject, is_plain

FEWEST, MOST = 2, 24
#: Read a photo at about this many pixels for its palette: an eighth of the sides of 24 megapixels.
READ_PIXELS = 180_000
# Distance in Lab up to which a pixel shows a palette colour: two such fields side by side look alike in use.
_SHOWS = 4.0
# Pixels of the small picture on which the centres are decided: fewer than in a quarter-size copy of 0.6 MP.
_SMALL = 20_000
# Colours the pixels are gathered into: the sum of squares then comes out within 0.1 % (measured).
_FINE, _COARSE = 8_000, 3_000
# Small things that may join colours told apart.
_SMALL_THINGS = 3
# Keeping accents may cost this much of the sum of squares; photos of few, calm colours would cost more.
_COSTS = 1.24


@dataclass(frozen=True, slots=True)
class PaletteColour:
    """One colour of a palette.

    Attributes
    ----------
    lab : tuple of 3 float
        Lab, D65, 2 degree observer.
    share : float
        Part of the photo's counted pixels, 0 to 1; those of all colours and the background sum to 1.
    spread_de00 : float
        Mean CIEDE2000 of its pixels to it.
    uncertainty_de00 : float
        How far off the true colour may be, as the photo's calibration states it.
    name : str
        Everyday name.
    pixel : tuple of 2 int
        x and y of a place in the upright, full-size photo where it can be seen.
    """

    lab: Lab
    share: float
    spread_de00: float
    uncertainty_de00: float
    name: str
    pixel: tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Palette:
    """The colours of a photo, largest share first.

    Attributes
    ----------
    photo : Photo
        As calibrated.
    calibration : Calibration
    colours : tuple of PaletteColour
    background : PaletteColour or None
        A plain background, reported apart.
    notes : tuple of str
    """

    photo: Photo
    calibration: Calibration
    colours: tuple[PaletteColour, ...]
    background: PaletteColour | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Reduced:
    """The colours an array of pixels is reduced to, largest share first.

    Attributes
    ----------
    lab : ndarray, shape (k, 3)
        The mean light of each colour's pixels (with accents off: their mean Lab), as Lab.
    share : ndarray, shape (k,)
        Part of the pixels, summing to 1.
    spread_de00 : ndarray, shape (k,)
        Mean CIEDE2000 of its pixels to it.
    place : ndarray, shape (k, 2)
        x and y in the array, in the middle of a patch of that colour.
    """

    lab: FloatArray
    share: FloatArray
    spread_de00: FloatArray
    place: FloatArray


def reduce_colours(
    linear: npt.NDArray[np.float32],
    colours: int | None = None,
    *,
    mask: BoolArray | None = None,
    keep_accents: bool = True,
) -> Reduced:
    """Reduce pixels to a few colours.

    Parameters
    ----------
    linear : float32 ndarray, shape (h, w, 3)
        Linear light, sRGB primaries.
    colours : int, optional
        How many; fewer are returned if there are fewer. Chosen by the data if left out.
    mask : bool ndarray, shape (h, w), optional
        Pixels that count; at least one.
    keep_accents : bool
        Keep small vivid areas, and let lightness and area count less than hue; costs at most a fifth of
        the sum of squared distances. If False: the least sum of squared Lab distances, nothing else.

    Returns
    -------
    Reduced

    Raises
    ------
    ValueError
        If ``linear`` has not the shape (h, w, 3), or no pixel counts.
    """
    if linear.ndim != 3 or linear.shape[2] != 3:
        raise ValueError(f"linear must have the shape (h, w, 3); got {linear.shape}")
    if mask is None:
        mask = np.ones(linear.shape[:2], dtype=bool)
    if not mask.any():
        raise ValueError("mask must leave at least one pixel")
    small, inside = _shrunk(linear, mask, _SMALL)
    planes = _lab_planes(small)
    pixels = _lab_planes(linear if mask.all() else linear[mask][:, np.newaxis])
    fine, count = clustering.gather([p.ravel() for p in pixels], _COARSE if keep_accents else _FINE)
    taken = 0
    if is_plain(small, inside):
        centres = clustering.means(fine, count, np.zeros(len(fine), dtype=np.intp), 1)
    else:
        coarse, weights = clustering.gather([plane[inside] for plane in planes], _COARSE)
        wanted = colours or separation.OFFERED
        if keep_accents:
            centres, taken = _kept(
                small, inside, (coarse, weights), (fine, count), wanted, steady=colours is not None
            )
        else:
            centres = clustering.best_centres(fine, count, wanted)
    scale = np.array([accents.LIGHTNESS if keep_accents else 1.0, 1.0, 1.0])
    label = clustering.nearest(fine * scale, centres * scale)
    used, label = np.unique(label, return_inverse=True)
    if keep_accents or len(used) == 1:
        lab = spaces.linear_to_lab(clustering.means(spaces.lab_to_linear(fine), count, label, len(used)))
        # A small thing's colour is its own mean light, without what else lies nearest to it.
        things = used >= len(centres) - taken
        lab[things] = centres[used[things]]
        if colours is None:
            share = np.bincount(label, count) / count.sum()
            lab = _told_apart(small, inside, lab, share, things)
            used, label = np.unique(clustering.nearest(fine * scale, lab * scale), return_inverse=True)
            lab = lab[used]
    else:
        lab = clustering.means(fine, count, label, len(used))
    mass = np.bincount(label, count)
    spread = np.bincount(label, count * delta_e_2000(fine, lab[label])) / mass
    order = np.argsort(-mass, kind="stable")
    lab = lab[order]
    place = _places(planes, inside, lab, scale) * (linear.shape[1] / small.shape[1])
    return Reduced(lab, mass[order] / mass.sum(), spread[order], place)


def _told_apart(
    small: npt.NDArray[np.float32], inside: BoolArray, lab: FloatArray, share: FloatArray, things: BoolArray
) -> FloatArray:
    """The colours that are told apart, and the small things that then no colour shows."""
    scale = np.array([accents.LIGHTNESS, 1.0, 1.0])
    planes = [plane * np.float32(part) for plane, part in zip(_lab_planes(small), scale, strict=True)]
    shown = np.stack([plane[inside] for plane in planes], axis=1).astype(float)
    field = np.full(inside.shape, -1, dtype=np.intp)
    field[inside] = clustering.nearest(shown, lab * scale)
    kept = separation.told_apart(lab, share, separation.cores(field, len(lab)), things)
    for thing in accents.worth_a_place(
        accents.small_things(small, planes, inside) * scale, kept * scale, _SMALL_THINGS
    ):
        if delta_e_2000(kept, thing / scale).min() >= separation.APART_DE00:
            kept = np.vstack([kept, thing / scale])
    return kept


Gathered = tuple[FloatArray, FloatArray]


def _kept(
    small: npt.NDArray[np.float32],
    inside: BoolArray,
    coarse: Gathered,
    fine: Gathered,
    count: int,
    *,
    steady: bool,
) -> tuple[FloatArray, int]:
    """Centres in Lab that keep small vivid things, decided on the small picture, settled on all pixels.

    So many of the last ones, as returned, are the colours of such things. ``steady`` averages near ties;
    not where alike colours are put together afterwards: an average of one colour's noise then stays apart.
    """
    scale = np.array([accents.LIGHTNESS, 1.0, 1.0])
    planes = [plane * np.float32(part) for plane, part in zip(_lab_planes(small), scale, strict=True)]
    things = accents.small_things(small, planes, inside) * scale
    colours, all_ = coarse[0] * scale, fine[0] * scale
    few = clustering.coarser(colours, coarse[1], 250)
    weights = coarse[1] * accents.emphasis(colours, *few)
    heavier = fine[1] * accents.emphasis(all_, *few)
    # The places that small things may take are left open, so that giving them one changes no other colour.
    places = accents.places(count)
    if steady:
        start = clustering.steady_centres(colours, weights, count - places)
        plain = clustering.lloyd(all_, heavier, clustering.steady_centres(colours, weights, count), 1)
    else:
        start = clustering.best_centres(colours, weights, count - places, starts=8)
        plain = clustering.lloyd(all_, heavier, clustering.split(colours, weights, start, count), 2)
    taken = accents.worth_a_place(things, start, places)
    if len(taken):
        settled = clustering.split(colours, weights, start, count - len(taken))
        centres = np.vstack([settled, taken])
        centres[: len(settled)] = clustering.lloyd(all_, heavier, centres, 1)[: len(settled)]
        most = _COSTS * clustering.distortion(*fine, plain / scale)
        used = len(np.unique(clustering.nearest(all_, centres)))
        if used == len(centres) and clustering.distortion(*fine, centres / scale) <= most:
            return centres / scale, len(taken)
    return plain / scale, 0


def _lab_planes(linear: npt.NDArray[np.float32]) -> list[npt.NDArray[np.float32]]:
    """L*, a* and b* of linear light as three float32 planes; to 1e-4 those of ``spaces.linear_to_lab``."""
    matrix = (spaces.LINEAR_SRGB_TO_XYZ / spaces.D65_XYZ[:, np.newaxis]).astype(np.float32)
    xyz = cv2.transform(np.ascontiguousarray(linear, dtype=np.float32), matrix)
    delta = np.float32(6 / 29)
    f = np.where(xyz > delta**3, np.cbrt(xyz), xyz / (3 * delta * delta) + np.float32(4 / 29))
    x, y, z = cv2.split(f)
    return [np.asarray(plane) for plane in (116 * y - 16, 500 * (x - y), 200 * (y - z))]


def _shrunk(
    linear: npt.NDArray[np.float32], mask: BoolArray, pixels: int
) -> tuple[npt.NDArray[np.float32], BoolArray]:
    """Averaged in linear light so that about so many pixels count; of the counted pixels alone."""
    shrink = math.sqrt(mask.sum() / pixels)
    if shrink <= 1:
        return linear, mask
    height, width = mask.shape
    size = max(1, round(width / shrink)), max(1, round(height / shrink))
    light, cover = downscale_masked(linear, mask, size)
    return light, cover >= min(0.5, float(cover.max()))


def _places(
    planes: list[npt.NDArray[np.float32]], inside: BoolArray, lab: FloatArray, scale: FloatArray
) -> FloatArray:
    """Where each colour can be seen: inside a patch of it, at the pixel nearest to it; x and y, (k, 2)."""
    pixels = np.stack([plane[inside] for plane in planes], axis=1).astype(float)
    field = np.full(inside.shape, -1, dtype=np.intp)
    field[inside] = clustering.nearest(pixels * scale, lab * scale)
    off = np.full(inside.shape, np.inf)
    places = np.empty((len(lab), 2))
    for index, colour in enumerate(lab):
        own = field == index
        if not own.any():
            own = inside
        depth = cv2.distanceTransform(np.pad(own, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
        off[inside] = ((pixels - colour) ** 2).sum(axis=1)
        # Half as deep as the deepest: the patch's middle, without leaving the choice of shade to its shape;
        # less deep where only another shade of the same colour's lies there.
        for share in (0.5, 0.25, 0.0):
            deep = np.where(own & (depth >= share * depth.max()), off, np.inf)
            y, x = np.unravel_index(deep.argmin(), off.shape)
            if deep[y, x] <= _SHOWS**2:
                break
        places[index] = x + 0.5, y + 0.5
    return places


def of_photo(
    photo: Photo,
    calibration: Calibration,
    *,
    colours: int | None = None,
    subject: Subject,
    keep_accents: bool = True,
) -> Palette:
    """The palette of a photo that is already calibrated.

    Parameters
    ----------
    photo : Photo
        Corrected by ``calibration.corrected``.
    calibration : Calibration
        States the uncertainty of each colour.
    colours : int, optional
        How many, 2 to 24; fewer if the photo has fewer. Chosen by the data if left out.
    subject : Subject
        Of ``find_subject``.
    keep_accents : bool
        Keep small vivid areas that clustering by area would drop.

    Raises
    ------
    OptionError
        If ``colours`` is not 2 to 24.
    PhotoError
        If the subject has no pixel.
    """
    if colours is not None and not FEWEST <= colours <= MOST:
        raise OptionError(f"a palette has {FEWEST} to {MOST} colours; got {colours}")
    if not subject.mask.any():
        raise PhotoError(f"{photo.file}: no pixel of the subject is left to take colours from")
    notes = list(subject.notes)
    counted = float(subject.mask.sum())
    behind = None if subject.background is None else float(subject.background.sum())
    total = counted + (behind or 0.0)
    found = _read(photo, calibration, subject.mask, counted / total, colours, keep_accents)
    if colours is not None and len(found) < colours:
        notes.append(f"{colours} colours were asked for, the photo has {len(found)}")
    background = None
    if behind and subject.background is not None:
        (background,) = _read(photo, calibration, subject.background, behind / total, 1, False)
        name = everyday_names([*(colour.lab for colour in found), background.lab])[-1]
        background = replace(background, name=name)
    return Palette(photo, calibration, tuple(found), background, tuple(notes))


def _read(
    photo: Photo, calibration: Calibration, mask: BoolArray, part: float, count: int | None, accents: bool
) -> list[PaletteColour]:
    """The colours of a part of a photo; their shares sum to ``part``."""
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    linear, inside = photo.linear[box], mask[box]
    if inside.sum() > 1.1 * READ_PIXELS:
        linear, inside = _shrunk(linear, inside, READ_PIXELS)
    reduced = reduce_colours(linear, count, mask=inside, keep_accents=accents)
    scale = (columns[-1] + 1 - columns[0]) / linear.shape[1] * photo.scale
    corner = np.array([columns[0], rows[0]]) * photo.scale
    places = np.minimum(corner + reduced.place * scale, [photo.width - 1, photo.height - 1]).astype(int)
    return [
        PaletteColour(
            lab=(float(lab[0]), float(lab[1]), float(lab[2])),
            share=float(share * part),
            spread_de00=float(spread),
            uncertainty_de00=float(calibration.uncertainty_of(lab)),
            name=name,
            pixel=(int(x), int(y)),
        )
        for lab, share, spread, (x, y), name in zip(
            reduced.lab, reduced.share, reduced.spread_de00, places, everyday_names(reduced.lab), strict=True
        )
    ]
