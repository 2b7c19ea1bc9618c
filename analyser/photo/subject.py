"""Which pixels of a photo are the subject, and which are a plain background.

Masks have the shape of ``photo.linear``; a box and a mask file are given in the upright, full-size photo.

Sources
-------
[1] Rother, Kolmogorov, Blake (2004), GrabCut, ACM Trans. Graph. 23(3), 309-314,
    doi:10.1145/1015706.1015720; as in OpenCV.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray
from analyser.colour import spaces
from analyser.colour.difference import delta_e_2000
from analyser.errors import PhotoError
from analyser.imaging.downscale import downscale_masked
from analyser.photo.box import Box
from analyser.photo.calibration import Calibration
from analyser.photo.reading import Photo

# GrabCut takes 0.2 s at this size and grows faster than the picture; the outline needs no more.
_CUT_PIXELS = 250_000
_CUT_ROUNDS = 5
# A cut that leaves less of the box than this has lost the subject.
_LEAST_CUT = 0.05
# A background is looked for on a copy of this many pixels, along a border this wide.
_LOOK_PIXELS = 20_000
_BORDER = 0.03
# It is plain if so much of the border lies within this CIEDE2000 of its median: shade over a table is about
# that, two materials are more.
_PLAIN_BORDER, _PLAIN_DE00 = 0.9, 8.0
# A subject smaller than this beside it is dust on a plain photo.
_LEAST_SUBJECT = 0.002
# A picture whose blocks all lie within this CIEDE2000 of its mean is of one colour; noise averages out.
_ONE_COLOUR_DE00 = 3.0
# Lab distance from a photo sheet's paper within which it is bare: soft shade is, white beads are not.
_PAPER_WITHIN = 8.0
# Shapes of photo and mask may differ by rounding only.
_SAME_SHAPE = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """The subject of a photo.

    Attributes
    ----------
    mask : bool ndarray, shape (h, w) of ``photo.linear``
        True where the subject is.
    background : bool ndarray, shape (h, w), or None
        A plain background round the subject, to be reported apart; None where there is none, and where
        the maker framed the subject.
    notes : tuple of str
        How the subject was found.
    """

    mask: BoolArray
    background: BoolArray | None = None
    notes: tuple[str, ...] = ()

    def without(self, reference: BoolArray) -> Subject:
        """The same without a chart, cards or their rims, which are no colour of the photo.

        Parameters
        ----------
        reference : bool ndarray, shape (h, w) of the mask

        Notes
        -----
        A subject that is nothing but reference was framed so by the maker, and stays.
        """
        left = self.mask & ~reference
        if not left.any():
            return self
        behind = None if self.background is None else self.background & ~reference
        return Subject(left, behind if behind is not None and behind.any() else None, self.notes)


def find_subject(photo: Photo, box: Box | None = None, mask_file: Path | None = None) -> Subject:
    """Find the subject of a photo.

    A mask file says it exactly; a box is searched by GrabCut [1], unless what it frames is of one colour;
    without either, a plain background along the border is set apart.

    Parameters
    ----------
    photo : Photo
    box : Box, optional
        Drawn by the maker round the subject.
    mask_file : Path, optional
        A picture of the photo's shape in any size, white where the subject is. With a box too, what lies
        in both counts.

    Returns
    -------
    Subject

    Raises
    ------
    OptionError
        If the box lies outside the photo.
    PhotoError
        If the mask file cannot be read, has another shape than the photo, or marks nothing.
    """
    shown = np.ones(photo.linear.shape[:2], dtype=bool) if photo.opaque is None else photo.opaque
    if not shown.any():
        raise PhotoError(f"{photo.file}: is transparent everywhere; there is nothing to take colours from")
    framed = None if box is None else _framed(photo, box)
    if mask_file is not None:
        marked = _marked(photo, mask_file)
        mask = marked & shown if framed is None else marked & shown & framed
        if not mask.any():
            raise PhotoError(f"{mask_file}: marks no pixel that shows; paint the subject white on black")
        return Subject(mask, None, ("the subject is what the mask marks",))
    if framed is not None:
        mask = framed & shown
        if not mask.any():
            raise PhotoError(f"{photo.file}: the box frames only transparent pixels; move it")
        return _cut_out(photo, mask, shown)
    background = _plain_background(photo, shown)
    if background is None:
        return Subject(shown)
    return Subject(shown & ~background, background, ("a plain background was set apart",))


def subject_on_sheet(photo: Photo, calibration: Calibration) -> Subject:
    """What lies on the photo sheet that a photo was taken on; its bare paper is the background.

    What is printed there, and the table round it, is neither.

    Parameters
    ----------
    photo : Photo
        Corrected by ``calibration``.
    calibration : Calibration
        With a sheet as its ground.

    Raises
    ------
    PhotoError
        If nothing lies on the sheet.
    """
    cleared = calibration.cleared(photo)
    if calibration.ground is None:
        return find_subject(photo)
    free = calibration.ground.sheet.free(photo.linear.shape[:2])
    lab = spaces.linear_to_lab(cleared.linear)
    paper = np.median(lab[~free].reshape(-1, 3)[::97], axis=0)
    bare = (np.linalg.norm(lab - paper, axis=-1) < _PAPER_WITHIN) & free
    # the blurred rim of a thing is half paper: no colour of its own
    mask = cv2.erode((free & ~bare).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    if not mask.any():
        raise PhotoError(
            f"{photo.file}: nothing lies on the photo sheet; put it in the room that is left free"
        )
    return Subject(mask, bare if bare.any() else None, ("the subject is what lies on the photo sheet",))


def is_plain(linear: npt.NDArray[np.float32], mask: BoolArray) -> bool:
    """Whether the masked pixels are all of one colour, apart from noise.

    Parameters
    ----------
    linear : ndarray, shape (h, w, 3)
        Linear light, sRGB primaries.
    mask : bool ndarray, shape (h, w)
        At least one True.
    """
    height, width = mask.shape
    # Blocks of at least four pixels a side, so that noise averages out; at most 24, so that 0.1 % shows.
    size = max(1, min(24, width // 4)), max(1, min(24, height // 4))
    blocks, cover = downscale_masked(linear, mask, size)
    full = cover > 0.25 * cover.max()
    lab = spaces.linear_to_lab(blocks[full])
    mean = spaces.linear_to_lab(linear[mask].mean(axis=0, dtype=np.float64))
    return bool(delta_e_2000(lab, mean).max() <= _ONE_COLOUR_DE00)


def _framed(photo: Photo, box: Box) -> BoolArray:
    x, y, width, height = (value / photo.scale for value in box.in_pixels(photo.width, photo.height))
    rows, columns = photo.linear.shape[:2]
    left, top = min(round(x), columns - 1), min(round(y), rows - 1)
    framed = np.zeros((rows, columns), dtype=bool)
    framed[top : max(round(y + height), top + 1), left : max(round(x + width), left + 1)] = True
    return framed


def _marked(photo: Photo, mask_file: Path) -> BoolArray:
    try:
        data = np.frombuffer(mask_file.read_bytes(), np.uint8)
    except OSError as error:
        raise PhotoError(f"{mask_file}: the mask cannot be opened ({error.strerror or error})") from error
    grey = cv2.imdecode(data, cv2.IMREAD_GRAYSCALE) if data.size else None
    if grey is None:
        raise PhotoError(f"{mask_file}: the mask is no picture; save it as PNG, white on black")
    height, width = grey.shape
    if abs(math.log(width * photo.height / (height * photo.width))) > _SAME_SHAPE:
        raise PhotoError(
            f"{mask_file}: the mask is {width} x {height}, the photo {photo.width} x {photo.height}; "
            "draw the mask on a copy of the photo"
        )
    rows, columns = photo.linear.shape[:2]
    how = cv2.INTER_AREA if width > columns else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(grey, (columns, rows), interpolation=how) >= 128)


def _cut_out(photo: Photo, framed: BoolArray, shown: BoolArray) -> Subject:
    """What stands out in the box from what lies round it."""
    rows, columns = np.flatnonzero(framed.any(axis=1)), np.flatnonzero(framed.any(axis=0))
    box = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    if is_plain(photo.linear[box], framed[box]):
        return Subject(framed, None, ("the box frames one plain colour, taken as it is",))
    height, width = framed.shape
    # As much of the surroundings as the box is wide: they show what is not the subject.
    down, across = len(rows), len(columns)
    near = (
        slice(max(0, rows[0] - down), min(height, rows[-1] + 1 + down)),
        slice(max(0, columns[0] - across), min(width, columns[-1] + 1 + across)),
    )
    if (framed[near] | ~shown[near]).all():
        return Subject(framed, None, ("nothing lies round the box, so all of it is the subject",))
    part = photo.linear[near]
    shrink = max(1.0, math.sqrt(part.shape[0] * part.shape[1] / _CUT_PIXELS))
    size = max(1, round(part.shape[1] / shrink)), max(1, round(part.shape[0] / shrink))
    small = cv2.resize(part, size, interpolation=cv2.INTER_AREA)
    picture = np.rint(255 * np.clip(spaces.linear_to_srgb(small), 0, 1)).astype(np.uint8)
    inside = cv2.resize(framed[near].astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    state = np.where(inside > 0, cv2.GC_PR_FGD, cv2.GC_BGD).astype(np.uint8)
    if (inside > 0).all() or not inside.any():
        return Subject(framed, None, ("nothing lies round the box, so all of it is the subject",))
    cv2.setRNGSeed(0)  # its colour models start from random means: the same photo gives the same cut
    models = np.zeros((1, 65)), np.zeros((1, 65))
    try:
        cv2.grabCut(picture, state, (0, 0, 1, 1), *models, _CUT_ROUNDS, cv2.GC_INIT_WITH_MASK)
    except cv2.error:  # too few different pixels for one of its colour models
        return Subject(framed, None, ("the box could not be cut out, so all of it is the subject",))
    cut = ((state == cv2.GC_FGD) | (state == cv2.GC_PR_FGD)).astype(np.float32)
    full = cv2.resize(cut, (part.shape[1], part.shape[0]), interpolation=cv2.INTER_LINEAR) >= 0.5
    mask = np.zeros_like(framed)
    mask[near] = full
    mask &= framed
    if mask.sum() < _LEAST_CUT * framed.sum():
        return Subject(framed, None, ("nothing stands out in the box, so all of it is the subject",))
    return Subject(mask, None, ("the subject is what stands out in the box",))


def _plain_background(photo: Photo, shown: BoolArray) -> BoolArray | None:
    """A plain surface that runs along the whole border, or None."""
    height, width = shown.shape
    shrink = max(1.0, math.sqrt(height * width / _LOOK_PIXELS))
    size = max(1, round(width / shrink)), max(1, round(height / shrink))
    small, cover = downscale_masked(photo.linear, shown, size)
    seen = cover >= 0.5
    wide = max(1, round(_BORDER * min(size)))
    border = np.ones(seen.shape, dtype=bool)
    border[wide:-wide, wide:-wide] = False
    border &= seen
    if not border.any() or border.all():
        return None
    lab = spaces.linear_to_lab(small[border])
    middle = np.median(lab, axis=0)
    if (delta_e_2000(lab, middle) <= _PLAIN_DE00).mean() < _PLAIN_BORDER:
        return None
    alike = np.zeros(seen.shape, dtype=np.uint8)
    alike[seen] = delta_e_2000(spaces.linear_to_lab(small[seen]), middle) <= _PLAIN_DE00
    _, part = cv2.connectedComponents(alike, connectivity=4)
    reached = (alike > 0) & np.isin(part, np.unique(part[border & (alike > 0)]))
    background = shown & (
        cv2.resize(reached.astype(np.float32), (width, height), interpolation=cv2.INTER_LINEAR) >= 0.5
    )
    left = shown & ~background
    if left.sum() < _LEAST_SUBJECT * shown.sum() or not background.any():
        return None
    return np.asarray(background)
