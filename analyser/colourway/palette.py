"""The reduced palette of a photo: gathered pixels, then the colours they are reduced to.

Distances and clusters live in Lab, the colour of a cluster is the mean of its light. Nothing here opens a
file.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, Lab
from analyser.colour import spaces
from analyser.colour.difference import delta_e_2000
from analyser.colour.names import everyday_names
from analyser.colourway import accents, clustering, separation
from analyser.colourway.gathering import SCALE, Gathered, Weighed, gathered, shrunk
from analyser.errors import OptionError, PhotoError
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo
from analyser.photo.subject import Subject

FEWEST, MOST = 2, 24
#: Read a photo at about this many pixels for its palette: an eighth of the sides of 24 megapixels.
READ_PIXELS = 180_000
# Distance in Lab up to which a pixel shows a palette colour: two such fields side by side look alike in use.
_SHOWS = 4.0
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
    """Reduce pixels to a few colours: ``reduced`` of what ``gathered`` gives, which say what each takes.

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

    Raises
    ------
    ValueError
        If ``linear`` has not the shape (h, w, 3), or no pixel counts.
    """
    return reduced(gathered(linear, mask=mask, keep_accents=keep_accents), colours)


def reduced(pixels: Gathered, colours: int | None = None) -> Reduced:
    """Reduce gathered pixels to a few colours.

    Parameters
    ----------
    pixels : Gathered
    colours : int, optional
        How many; fewer are returned if there are fewer. Chosen by the data if left out.
    """
    fine, count, weighed = pixels.lab, pixels.count, pixels.weighed
    taken = 0
    if pixels.plain:
        centres = clustering.means(fine, count, np.zeros(len(fine), dtype=np.intp), 1)
    elif weighed is None:
        centres = clustering.best_centres(fine, count, colours or separation.OFFERED)
    else:
        wanted = colours or separation.OFFERED
        centres, taken = _kept(pixels, weighed, wanted, steady=colours is not None)
    scale = np.ones(3) if weighed is None else SCALE
    label = clustering.nearest(fine * scale, centres * scale)
    used, label = np.unique(label, return_inverse=True)
    if weighed is None and len(used) > 1:
        lab = clustering.means(fine, count, label, len(used))
    else:
        lab = spaces.linear_to_lab(clustering.means(spaces.lab_to_linear(fine), count, label, len(used)))
        # A small thing's colour is its own mean light, without what else lies nearest to it.
        things = used >= len(centres) - taken
        lab[things] = centres[used[things]]
        if colours is None and weighed is not None:
            lab = _told_apart(pixels, weighed, lab, np.bincount(label, count) / count.sum(), things)
            used, label = np.unique(clustering.nearest(fine * scale, lab * scale), return_inverse=True)
            lab = lab[used]
    mass = np.bincount(label, count)
    spread = np.bincount(label, count * delta_e_2000(fine, lab[label])) / mass
    order = np.argsort(-mass, kind="stable")
    lab = lab[order]
    place = _places(pixels, lab, scale) * (pixels.width / pixels.inside.shape[1])
    return Reduced(lab, mass[order] / mass.sum(), spread[order], place)


def _told_apart(
    pixels: Gathered, weighed: Weighed, lab: FloatArray, share: FloatArray, things: BoolArray
) -> FloatArray:
    """The colours that are told apart, and the small things that then no colour shows."""
    planes = [plane * np.float32(part) for plane, part in zip(pixels.planes, SCALE, strict=True)]
    shown = np.stack([plane[pixels.inside] for plane in planes], axis=1).astype(float)
    field = np.full(pixels.inside.shape, -1, dtype=np.intp)
    field[pixels.inside] = clustering.nearest(shown, lab * SCALE)
    kept = separation.told_apart(lab, share, separation.cores(field, len(lab)), things)
    for thing in accents.worth_a_place(weighed.things, kept * SCALE, _SMALL_THINGS):
        if delta_e_2000(kept, thing / SCALE).min() >= separation.APART_DE00:
            kept = np.vstack([kept, thing / SCALE])
    return kept


def _kept(pixels: Gathered, weighed: Weighed, count: int, *, steady: bool) -> tuple[FloatArray, int]:
    """Centres in Lab that keep small vivid things, decided on the small picture, settled on all pixels.

    So many of the last ones, as returned, are the colours of such things. ``steady`` averages near ties;
    not where alike colours are put together afterwards: an average of one colour's noise then stays apart.
    """
    coarse = weighed.coarse, weighed.coarse_weights
    fine = weighed.fine, weighed.fine_weights
    # The places that small things may take are left open, so that giving them one changes no other colour.
    places = accents.places(count)
    if steady:
        plain = clustering.lloyd(*fine, clustering.steady_centres(*coarse, count), 1)
        if not len(weighed.things):
            return plain / SCALE, 0
        start = clustering.steady_centres(*coarse, count - places)
    else:
        start = clustering.best_centres(*coarse, count - places, starts=8)
        plain = clustering.lloyd(*fine, clustering.split(*coarse, start, count), 2)
    taken = accents.worth_a_place(weighed.things, start, places)
    if len(taken):
        settled = clustering.split(*coarse, start, count - len(taken))
        centres = np.vstack([settled, taken])
        centres[: len(settled)] = clustering.lloyd(*fine, centres, 1)[: len(settled)]
        most = _COSTS * clustering.distortion(pixels.lab, pixels.count, plain / SCALE)
        used = len(np.unique(clustering.nearest(weighed.fine, centres)))
        reached = clustering.distortion(pixels.lab, pixels.count, centres / SCALE)
        if used == len(centres) and reached <= most:
            return centres / SCALE, len(taken)
    return plain / SCALE, 0


def _places(picture: Gathered, lab: FloatArray, scale: FloatArray) -> FloatArray:
    """Where each colour can be seen: inside a patch of it, at the pixel nearest to it; x and y, (k, 2)."""
    inside = picture.inside
    pixels = np.stack([plane[inside] for plane in picture.planes], axis=1).astype(float)
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


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """A part of a photo whose pixels are gathered.

    Attributes
    ----------
    pixels : Gathered
    share : float
        Of the photo's counted pixels, 0 to 1.
    corner : tuple of 2 float
        x and y of the part in the upright, full-size photo.
    scale : float
        Pixels of that photo to one of the picture that was gathered.
    """

    pixels: Gathered
    share: float
    corner: tuple[float, float]
    scale: float


@dataclass(frozen=True, slots=True, eq=False)
class PhotoPixels:
    """A calibrated photo whose subject's pixels are gathered, to be reduced to any number of colours.

    Attributes
    ----------
    photo : Photo
    calibration : Calibration
    subject : Part
    background : Part or None
    notes : tuple of str
        How the subject was found.
    """

    photo: Photo
    calibration: Calibration
    subject: Part
    background: Part | None
    notes: tuple[str, ...]

    def reduced(self, colours: int | None = None) -> Palette:
        """The palette: of so many colours, 2 to 24, or of as many as the data choose.

        Raises
        ------
        OptionError
            If ``colours`` is not 2 to 24.
        """
        check_number(colours)
        found = self._read(self.subject, colours)
        notes = list(self.notes)
        if colours is not None and len(found) < colours:
            notes.append(f"{colours} colours were asked for, the photo has {len(found)}")
        background = None
        if self.background is not None:
            (background,) = self._read(self.background, 1)
            name = everyday_names([*(colour.lab for colour in found), background.lab])[-1]
            background = replace(background, name=name)
        return Palette(self.photo, self.calibration, tuple(found), background, tuple(notes))

    def _read(self, part: Part, count: int | None) -> list[PaletteColour]:
        """The colours of a part; their shares sum to its own."""
        found, photo = reduced(part.pixels, count), self.photo
        places = np.array(part.corner) + found.place * part.scale
        places = np.minimum(places, [photo.width - 1, photo.height - 1]).astype(int)
        return [
            PaletteColour(
                lab=(float(lab[0]), float(lab[1]), float(lab[2])),
                share=float(share * part.share),
                spread_de00=float(spread),
                uncertainty_de00=float(self.calibration.uncertainty_of(lab)),
                name=name,
                pixel=(int(x), int(y)),
            )
            for lab, share, spread, (x, y), name in zip(
                found.lab, found.share, found.spread_de00, places, everyday_names(found.lab), strict=True
            )
        ]


def check_number(colours: int | None) -> None:
    """See to it that a palette can have so many colours.

    Raises
    ------
    OptionError
        If not.
    """
    if colours is not None and not FEWEST <= colours <= MOST:
        raise OptionError(f"a palette has {FEWEST} to {MOST} colours; got {colours}")


def pixels_of(
    photo: Photo, calibration: Calibration, *, subject: Subject, keep_accents: bool = True
) -> PhotoPixels:
    """Gather the pixels of a photo that is already calibrated.

    Parameters
    ----------
    photo : Photo
        Corrected by ``calibration.corrected``.
    calibration : Calibration
        States the uncertainty of each colour.
    subject : Subject
        Of ``find_subject``.
    keep_accents : bool
        Keep small vivid areas that clustering by area would drop.

    Raises
    ------
    PhotoError
        If the subject has no pixel.
    """
    if not subject.mask.any():
        raise PhotoError(f"{photo.file}: no pixel of the subject is left to take colours from")
    counted = float(subject.mask.sum())
    behind = 0.0 if subject.background is None else float(subject.background.sum())
    total = counted + behind
    background = None
    if behind and subject.background is not None:
        background = _part(photo, subject.background, behind / total, keep_accents=False)
    of_subject = _part(photo, subject.mask, counted / total, keep_accents=keep_accents)
    return PhotoPixels(photo, calibration, of_subject, background, subject.notes)


def _part(photo: Photo, mask: BoolArray, share: float, *, keep_accents: bool) -> Part:
    rows, columns = (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    linear, inside = photo.linear[box], mask[box]
    if inside.sum() > 1.1 * READ_PIXELS:
        linear, inside = shrunk(linear, inside, READ_PIXELS)
    return Part(
        gathered(linear, mask=inside, keep_accents=keep_accents),
        share,
        (float(columns[0] * photo.scale), float(rows[0] * photo.scale)),
        float((columns[-1] + 1 - columns[0]) / linear.shape[1] * photo.scale),
    )


def of_photo(
    photo: Photo,
    calibration: Calibration,
    *,
    colours: int | None = None,
    subject: Subject,
    keep_accents: bool = True,
) -> Palette:
    """The palette of a calibrated photo: what ``pixels_of`` gathers, reduced to so many colours.

    Raises
    ------
    OptionError
        If ``colours`` is not 2 to 24.
    PhotoError
        If the subject has no pixel.
    """
    check_number(colours)
    return pixels_of(photo, calibration, subject=subject, keep_accents=keep_accents).reduced(colours)
