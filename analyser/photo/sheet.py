"""A photo sheet in a photo: which one, where it lies, and how the photo's pixels and its millimetres meet.

Pixels are those of the upright, full-size photo; millimetres those of the printed page. Nothing here looks at
colour.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray
from analyser.imaging.homography import project
from analyser.photo.reading import Photo
from analyser.photo.sheet_layout import PLACES, Layout, first_number, layout, sheet_of
from analyser.photo.sheet_marks import find_marks

FEWEST_MARKS = 3
_REACH_MM = 3.0  # a corner farther than that from where the others put it is of another sheet, or misread
_CURLED_MM = 0.25  # corners off by more than this from a plane show a paper that does not lie flat
_FEWEST_CURLED = 6  # marks from which its bend can be told
_SMOOTH = 0.02  # thin-plate smoothing, mm squared: corners are found to a tenth of a millimetre
_NEIGHBOUR_MARKS = 2  # a single one may be a reflection or misread
_SURELY_GROUND, _MAYBE_GROUND = 0.35, 0.1  # of the frame covered by the page

# Where the photo does not tell its lens: arm's length. With a phone's usual lens a sheet fills the frame from
# 0.25 m, standing people hold it at 0.35 to 0.5 m (common practice, no source).
_USUAL_HEIGHT_MM = 380.0
_DIAGONAL_35MM = 43.27  # of the 36 x 24 mm frame that equivalent focal lengths refer to


@dataclass(frozen=True, eq=False)
class Sheet:
    """A photo sheet as it lies in a photo.

    Attributes
    ----------
    layout : Layout
    seen : tuple of int
        Numbers of the marks that told its place.
    plane : ndarray, shape (3, 3)
        Homography from pixels to millimetres.
    bend : callable or None
        What a paper that curls adds, millimetres (n, 2) to millimetres (n, 2).
    frame_px : tuple of int
        Width and height of the photo.
    focal_px : float or None
        Focal length of the lens in pixels, where the photo tells it.
    strangers : int
        How many marks in sight are another sheet's.
    printed : float
        How long a printed millimetre is, in millimetres; all places on the page are in printed ones.
    """

    layout: Layout
    seen: tuple[int, ...]
    plane: FloatArray
    bend: Callable[[FloatArray], FloatArray] | None
    frame_px: tuple[int, int]
    focal_px: float | None
    strangers: int
    printed: float = 1.0

    def to_mm(self, pixels: npt.ArrayLike) -> FloatArray:
        """Places on the page, (n, 2) to (n, 2)."""
        flat = project(self.plane, np.asarray(pixels, float).reshape(-1, 2))
        return flat if self.bend is None else flat + self.bend(flat)

    def to_px(self, millimetres: npt.ArrayLike) -> FloatArray:
        """Places in the photo, (n, 2) to (n, 2)."""
        page = np.asarray(millimetres, float).reshape(-1, 2)
        flat = page
        if self.bend is not None:
            for _ in range(4):  # the bend is a millimetre or so and smooth: it converges at once
                flat = page - self.bend(flat)
        return project(np.linalg.inv(self.plane), flat)

    @cached_property
    def outline_px(self) -> FloatArray:
        """The page's corners, shape (4, 2); they may lie beyond the frame."""
        return self.to_px(self.layout.page.corners)

    @cached_property
    def mm_per_px(self) -> float:
        """In the middle of the page, or of what is in sight of it."""
        middle = np.clip(self.to_px([self.layout.page.centre])[0], 0, self.frame_px)
        square = middle + np.array([[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]])
        area = abs(cv2.contourArea(self.to_mm(square).astype(np.float32)))
        return self.printed * float(np.sqrt(area)) / 10

    @cached_property
    def share(self) -> float:
        """Of the frame that the page covers."""
        width, height = self.frame_px
        frame = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
        covered, _ = cv2.intersectConvexConvex(self.outline_px.astype(np.float32), frame)
        return float(covered / (width * height))

    @property
    def is_ground(self) -> bool:
        """Whether the photo is taken on it, rather than beside it or with it in the background."""
        if self.share >= _SURELY_GROUND:
            return True
        middle = (self.frame_px[0] / 2, self.frame_px[1] / 2)
        inside = cv2.pointPolygonTest(self.outline_px.astype(np.float32), middle, False) >= 0
        return bool(inside and self.share >= _MAYBE_GROUND)

    @property
    def has_neighbour(self) -> bool:
        """Whether another sheet lies in the photo too."""
        return self.strangers >= _NEIGHBOUR_MARKS

    @property
    def missing(self) -> tuple[str, ...]:
        """Places of the marks that were not seen."""
        return _missing(self.layout, self.seen)

    def nearer(self, height_mm: float) -> float:
        """By how much things that high above the page measure less than they seem to on it.

        A thing nearer to the camera looks larger; multiply a length measured on the page by this.
        """
        return 1 - height_mm / self.camera_height_mm

    @cached_property
    def camera_height_mm(self) -> float:
        """Of the lens above the page, from the focal length; a usual one where that is not told."""
        if self.focal_px is None:
            return _USUAL_HEIGHT_MM
        width, height = self.frame_px
        inward = np.array([[self.focal_px, 0, width / 2], [0, self.focal_px, height / 2], [0, 0, 1.0]])
        axes = np.linalg.inv(inward) @ np.linalg.inv(self.plane)  # page to rays: two axes and the origin
        axes /= np.sqrt(np.linalg.norm(axes[:, 0]) * np.linalg.norm(axes[:, 1]))
        normal = np.cross(axes[:, 0], axes[:, 1])
        return self.printed * float(abs(normal @ axes[:, 2]) / np.linalg.norm(normal))

    def free(self, shape: tuple[int, int]) -> BoolArray:
        """Where the maker's things may lie, over a picture (h, w) of the whole frame."""
        mask = np.zeros(shape, np.uint8)
        scale = np.divide(shape[::-1], self.frame_px)
        printed = (box.corners for box in self.layout.inside)
        for polygons, value in ((self.layout.free, 1), (printed, 0)):
            for polygon in polygons:
                at = np.round(self.to_px(polygon) * scale * 16 - 8).astype(np.int32)
                cv2.fillPoly(mask, [at], value, shift=4)
        return mask > 0


def find_sheet(photo: Photo) -> tuple[Sheet | None, str]:
    """The photo sheet of a photo; None where three marks of one are not in sight, and then what is missing.

    The words are empty where there is a sheet, or not a trace of one.
    """
    marks, again = find_marks(photo.linear)
    sheet = _placed(photo, marks, again) if len(marks) >= FEWEST_MARKS else None
    told = _most_told(marks)
    if sheet is not None or told is None:
        return sheet, ""
    seen = tuple(number for number in marks if number in told.marks)
    says = f"{len(seen)} of its marks can be read" if len(seen) < FEWEST_MARKS else "its marks do not agree"
    return None, (
        f"a photo sheet is in sight, but only {says}, and {FEWEST_MARKS} are needed; "
        f"missing: {', '.join(_missing(told, seen))}"
    )


def _most_told(marks: dict[int, FloatArray]) -> Layout | None:
    """The sheet that most of the marks belong to."""
    told = Counter(sheet_of(number) for number in marks).most_common(1)
    return layout(*told[0][0]) if told and told[0][0] is not None else None


def _missing(on: Layout, seen: tuple[int, ...]) -> tuple[str, ...]:
    first = first_number(on.kind, on.paper, on.name)
    return tuple(place for number, place in enumerate(PLACES, start=first) if number not in seen)


def _placed(photo: Photo, marks: dict[int, FloatArray], again: int) -> Sheet | None:
    on = _most_told(marks)
    if on is None:
        return None
    numbers = [number for number in marks if number in on.marks]
    if len(numbers) < FEWEST_MARKS:
        return None
    frame = photo.width, photo.height
    pixels = np.concatenate([marks[number] for number in numbers]) * frame
    page = np.concatenate([on.marks[number].corners for number in numbers])
    plane, kept = cv2.findHomography(pixels, page, cv2.RANSAC, _REACH_MM)
    if plane is None:
        return None
    agree = kept.reshape(-1, 4).sum(axis=1) >= 3
    if agree.sum() < FEWEST_MARKS:
        return None
    of_them = np.repeat(agree, 4)
    pixels, page = pixels[of_them], page[of_them]
    plane, _ = cv2.findHomography(pixels, page)
    seen = tuple(number for number, good in zip(numbers, agree, strict=True) if good)
    focal = photo.focal_35mm and photo.focal_35mm / _DIAGONAL_35MM * float(np.hypot(*frame))
    to_page: FloatArray = np.asarray(plane, np.float64)
    from analyser.photo import papers

    learnt = papers.known().get(on.name)
    printed = 1.0 if learnt is None else learnt.printed
    strangers = again + len(marks) - len(numbers)
    return Sheet(on, seen, to_page, _bend(to_page, pixels, page), frame, focal or None, strangers, printed)


def _bend(
    plane: FloatArray, pixels: FloatArray, page: FloatArray
) -> Callable[[FloatArray], FloatArray] | None:
    """How far the page's places lie from where a flat page would have them."""
    from scipy.interpolate import RBFInterpolator

    flat = project(plane, pixels)
    off = page - flat
    typical = float(np.median(np.hypot(*off.T)))
    if len(page) < 4 * _FEWEST_CURLED or typical < _CURLED_MM:
        return None
    # a corner that JPEG or glare has moved is no bend
    sound = np.hypot(*off.T) < 4 * typical
    bend = RBFInterpolator(flat[sound], off[sound], kernel="thin_plate_spline", smoothing=_SMOOTH)
    return lambda at: np.asarray(bend(at))
