"""The beads of an unrolled rope: where each lies, its role and its colour."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import BoolArray, FloatArray, IntArray
from analyser.errors import PhotoError
from analyser.imaging.logs import calm, log_features
from analyser.imaging.mixtures import log_density
from analyser.rope.ground import table_beside, table_ratios
from analyser.rope.roles import (
    BEAD_OF_RADIUS,
    MOST_ROLES,
    SHADE,
    SPARE_PARTS,
    RoleModel,
    fit_roles,
    fit_told,
)
from analyser.rope.spots import add_spots, find_spots
from analyser.rope.unrolling import Strip

END_RADII = 1.7
"""Length at each end, in tube radii, that does not tell the roles: an end bead of 6 mm is 1.6 long."""


@dataclass(frozen=True, slots=True, eq=False)
class Beads:
    """Beads found in a strip; some at the sides are missed, few are invented.

    Attributes
    ----------
    column, row : ndarray, shape (n,)
        Centre in the strip.
    role : ndarray of int, shape (n,)
        Index into ``RoleModel`` rows.
    linear : ndarray, shape (n, 3)
        Mean linear light of its pixels without the brightest tenth and the darkest fifth.
    pixels : ndarray, shape (n,)
        How many strip pixels it was measured on.
    """

    column: FloatArray
    row: FloatArray
    role: IntArray
    linear: FloatArray
    pixels: IntArray

    def __len__(self) -> int:
        return len(self.column)

    def of(self, roles: set[int]) -> Beads:
        """Those of some roles."""
        mine = np.isin(self.role, sorted(roles))
        return Beads(self.column[mine], self.row[mine], self.role[mine], self.linear[mine], self.pixels[mine])


def together(one: Beads, other: Beads) -> Beads:
    """Both, in order along the rope."""
    order = np.argsort(np.concatenate([one.column, other.column]), kind="stable")
    return Beads(
        *(
            np.concatenate([getattr(one, name), getattr(other, name)])[order]
            for name in ("column", "row", "role", "linear", "pixels")
        )
    )


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """What placing found in a strip.

    Attributes
    ----------
    strip : Strip
        Possibly shortened where an end bead or clasp was cut away.
    beads : Beads
    model : RoleModel
    features : float32 ndarray, shape (across, along, 3)
        Log features of the calmed strip with the slow light divided out.
    posterior : float32 ndarray, shape (k, across, along)
        Probability of each role at each pixel; all low where a pixel is gap, edge, table or a strange colour.
    bead : float
        Bead diameter in strip pixels.
    light : ndarray, shape (along, 3)
        Slow log features of the light that were divided out.
    table : bool ndarray, shape (across, along)
        Pixels that look like the table beside them, or its shadow: no bead.
    averaged : bool
        Roles of nearly one colour, told by each bead's middle as a whole: single pixels do not tell them.
    """

    strip: Strip
    beads: Beads
    model: RoleModel
    features: npt.NDArray[np.float32]
    posterior: npt.NDArray[np.float32]
    bead: float
    light: FloatArray
    table: BoolArray
    averaged: bool = False


def place(
    strip: Strip, file: str = "the photo", *, told: int | None = None, spare: int = SPARE_PARTS
) -> Placed:
    """Find roles and beads in a strip.

    Parameters
    ----------
    strip : Strip
    file : str
        Named in errors.
    told : int, optional
        How many colours of beads a plan says there are, each then a role of its own.
    spare : int
        Components fitted beside those that are told.

    Raises
    ------
    PhotoError
        If beads are under 12 full-size pixels, or too few could be told apart.
    """
    bead = BEAD_OF_RADIUS * strip.radius
    if bead * strip.scale < 12:
        raise PhotoError(
            f"{file}: beads of about {bead * strip.scale:.0f} pixels are too small to judge (12 needed); "
            "photograph less of the rope, or come closer"
        )
    features = log_features(calm(strip.linear, 0.35 * bead))
    light = np.zeros((strip.linear.shape[1], 3))
    light[:, 1:] = table_ratios(strip.linear, strip.radius)
    weights = _evenness(features, bead)
    inside = np.zeros(features.shape[:2], bool)
    reach = round(0.75 * strip.radius)
    # A clasp, an end bead and the base's one colour would pass for a role, or for more of one.
    ends = round(END_RADII * strip.radius)
    inside[strip.middle - reach : strip.middle + reach + 1, strip.start + ends : strip.stop - ends] = True
    table = table_beside(strip.linear, features, strip.radius)
    # The table's rim, where the rope's edge is blurred into it, is no bead either.
    rim = max(3, round(0.4 * bead)) | 1
    inside &= cv2.dilate(table.astype(np.uint8), np.ones((rim, rim))) == 0
    place_along = np.broadcast_to(strip.fraction(np.arange(features.shape[1])), inside.shape)
    most = MOST_ROLES
    for _ in range(2):
        level = features - light[None]
        seen = level[inside], weights[inside], place_along[inside]
        model = fit_roles(*seen, most=most) if told is None else fit_told(*seen, told, spare=spare)
        most = max(len(model.means), 2)  # once looked for in vain, a third role is not looked for again
        posterior = _posterior(level, model)
        light = light + _slow_light(level, posterior, model, inside, strip, bead)
    level = features - light[None]
    posterior = _posterior(level, model)
    amount = (posterior * inside).sum(axis=1)
    if told is None:
        more = add_spots(model, find_spots(level, posterior, table, strip, bead), strip, amount)
        if more is not model:
            model, posterior = more, _posterior(level, more)
    strip = _cut_end_parts(strip, posterior, bead)
    posterior[:, table] = 0
    beads = beads_of(strip, posterior, table, bead)
    if len(beads) < 24:
        raise PhotoError(
            f"{file}: only {len(beads)} beads could be told apart; is the rope in focus and fully lit?"
        )
    return Placed(
        strip,
        beads,
        model,
        level.astype(np.float32),
        posterior,
        bead,
        light,
        table,
    )


SURE_ROUNDS = 3
"""Times that colours sought are adjusted to the pixels that are most likely theirs."""


def with_colours(placed: Placed, means: FloatArray, like: int) -> Placed:
    """The rope placed anew with further colours, of which is known about how they look.

    Parameters
    ----------
    placed : Placed
    means : ndarray, shape (n, 3)
        As those of ``RoleModel``.
    like : int
        The role that scatters as they do.
    """
    strip = placed.strip
    model = placed.model
    for mean in means:
        model = model.add_role(mean, model.covariances[like], float(model.shares.min()), 0.0)
    level = np.asarray(placed.features, float)
    reach = round(0.75 * strip.radius)
    inside = np.zeros(level.shape[:2], bool)
    inside[strip.middle - reach : strip.middle + reach + 1, strip.start : strip.stop] = True
    inside &= ~placed.table
    seen = level[inside]
    for _ in range(SURE_ROUNDS):
        weight = _posterior(seen[None], model)[:, 0]
        sure = np.where(weight > 0.5, weight, 0.0)
        amount = sure.sum(axis=1)
        moved = (sure @ seen) / np.maximum(amount, 1e-9)[:, None]
        enough = amount > 0.25 * placed.bead**2
        model = replace(model, means=np.where(enough[:, None], moved, model.means))
    posterior = _posterior(level, model)
    posterior[:, placed.table] = 0
    beads = beads_of(strip, posterior, placed.table, placed.bead)
    return replace(placed, beads=beads, model=model, posterior=posterior)


def _blur_rim(table: BoolArray) -> BoolArray:
    """The table and what lens and halved chroma blur into it, about three pixels.

    A bead measured there is part table: the body of a drawn spiral scattered so much that a change of 5.6 in
    it was not found. A rim that grows with the bead hid a small change of a rope with larger ones.
    """
    return np.asarray(cv2.dilate(table.astype(np.uint8), np.ones((7, 7))) > 0)


def _evenness(features: FloatArray, bead: float) -> FloatArray:
    size = max(3, round(0.3 * bead)) | 1
    spread = np.zeros(features.shape[:2])
    for channel in np.moveaxis(features.astype(np.float32), -1, 0):
        spread += np.maximum(cv2.blur(channel**2, (size, size)) - cv2.blur(channel, (size, size)) ** 2, 0)
    typical = float(np.median(spread))
    weights = 1 / (spread + 0.5 * typical + 1e-9)
    return np.minimum(weights, np.percentile(weights, 90))


def _posterior(features: FloatArray, model: RoleModel) -> npt.NDArray[np.float32]:
    """Probability of each role, against the other and an even floor, shape (k, across, along)."""
    logs = [
        np.log(share) + log_density(features, mean, 2.0 * covariance + 0.25 * SHADE)
        for share, mean, covariance in zip(model.shares, model.means, model.covariances, strict=True)
    ]
    stack = np.stack([*logs, np.full(features.shape[:2], np.log(0.02 / 50))])
    top = stack.max(axis=0)
    parts = np.exp(stack - top)
    return np.asarray(parts[:-1] / parts.sum(axis=0), np.float32)


def _slow_light(
    level: FloatArray,
    posterior: FloatArray,
    model: RoleModel,
    inside: BoolArray,
    strip: Strip,
    bead: float,
) -> FloatArray:
    """What both roles' pixels do alike along the rope, slower than about ten beads, shape (along, 3)."""
    from scipy.ndimage import gaussian_filter1d

    width = level.shape[1]
    total, weight = np.zeros((width, 3)), np.zeros(width)
    for probability, mean in zip(posterior, model.means, strict=True):
        sure = np.where(inside & (probability > 0.8), probability, 0.0)
        amount = sure.sum(axis=0)
        # Roles count alike, whatever their area, or a change of lot in one would pass for light.
        smooth_amount = gaussian_filter1d(amount, 8 * bead, mode="constant") + 1e-6
        smooth = gaussian_filter1d(
            (sure[..., None] * (level - mean)).sum(axis=0), 8 * bead, axis=0, mode="constant"
        )
        trust = np.minimum(smooth_amount / (0.1 * strip.radius), 1.0)
        total += trust[:, None] * smooth / smooth_amount[:, None]
        weight += trust
    return np.asarray(total / np.maximum(weight, 1e-6)[:, None])


def _cut_end_parts(strip: Strip, posterior: FloatArray, bead: float) -> Strip:
    """The strip with columns cut off its ends where most of the width is in no role: end beads, clasps."""
    from scipy.ndimage import uniform_filter1d

    rows = np.abs(np.arange(posterior.shape[1]) - strip.middle) < 0.6 * strip.radius
    strange = 1 - posterior[:, rows].max(axis=0)
    share = uniform_filter1d((strange > 0.8).mean(axis=0), max(3, round(0.6 * bead)))
    columns = np.arange(len(share))
    limit = round(3 * strip.radius)
    start, stop = strip.start, strip.stop
    head = (columns >= start) & (columns < start + limit) & (share > 0.6)
    tail = (columns < stop) & (columns >= stop - limit) & (share > 0.6)
    if head.sum() > 1.0 * bead:
        start = int(columns[head].max()) + 1
    if tail.sum() > 1.0 * bead:
        stop = int(columns[tail].min())
    return replace(strip, start=start, stop=stop)


def beads_of(strip: Strip, posterior: FloatArray, table: BoolArray, bead: float) -> Beads:
    """The beads in a picture of roles.

    Parameters
    ----------
    strip : Strip
    posterior : ndarray, shape (k, across, along)
        Probability of each role.
    table : bool ndarray, shape (across, along)
    bead : float
        Diameter in strip pixels.
    """
    from scipy.ndimage import maximum_filter

    posterior = np.where(_blur_rim(table), np.float32(0), posterior)
    brightness = np.cbrt(np.maximum(strip.linear.mean(axis=-1), 0))
    rows = np.arange(posterior.shape[1])[:, None] - strip.middle
    columns = np.arange(posterior.shape[2])[None]
    allowed = (np.abs(rows) < strip.radius) & (columns >= strip.start) & (columns < strip.stop)
    found = []
    for role, probability in enumerate(posterior):
        sure = allowed & (probability > 0.7)
        if not sure.any():
            continue
        typical = float(np.median(brightness[sure]))
        # Gaps between beads of one role are darker: they part what the role alone would join.
        shape = probability * np.clip(brightness / max(typical, 1e-6), 0, 1.15)
        smooth = cv2.GaussianBlur(shape.astype(np.float32), (0, 0), 0.2 * bead)
        size = max(3, round(0.6 * bead)) | 1
        peak = (smooth == maximum_filter(smooth, size=size)) & (smooth > 0.25) & allowed
        where = np.argwhere(peak)
        found.append(np.column_stack([where[:, 1], where[:, 0], np.full(len(where), role)]))
    seeds = np.vstack(found) if found else np.zeros((0, 3))
    return _measure_beads(strip, posterior, bead, seeds.astype(float))


def _measure_beads(strip: Strip, posterior: FloatArray, bead: float, seeds: FloatArray) -> Beads:
    """Each seed's colour on the pixels of its role nearest to it."""
    from scipy.spatial import cKDTree

    kept: list[tuple[float, float, int, FloatArray, int]] = []
    for role in range(len(posterior)):
        mine = seeds[seeds[:, 2] == role]
        if not len(mine):
            continue
        spots = np.argwhere(posterior[role] > 0.5)
        distance, owner = cKDTree(mine[:, 1::-1]).query(spots, distance_upper_bound=0.55 * bead)
        near = np.isfinite(distance)
        spots, owner = spots[near], owner[near]
        light = strip.linear[spots[:, 0], spots[:, 1]].astype(float)
        order = np.lexsort((light.mean(axis=1), owner))
        spots, owner, light = spots[order], owner[order], light[order]
        starts = np.searchsorted(owner, np.arange(len(mine) + 1))
        for index in range(len(mine)):
            part = slice(starts[index], starts[index + 1])
            count = part.stop - part.start
            if count < 0.15 * bead * bead:
                continue
            # Common practice, no source: without highlight and gap, the brightest tenth and darkest fifth.
            body = light[part.start + round(0.2 * count) : part.stop - round(0.1 * count)]
            centre = spots[part].mean(axis=0)
            kept.append((float(centre[1]), float(centre[0]), role, body.mean(axis=0), count))
    kept.sort(key=lambda one: (one[0], one[1]))
    return Beads(
        np.array([one[0] for one in kept]),
        np.array([one[1] for one in kept]),
        np.array([one[2] for one in kept], np.intp),
        np.array([one[3] for one in kept]).reshape(-1, 3),
        np.array([one[4] for one in kept], np.intp),
    )
