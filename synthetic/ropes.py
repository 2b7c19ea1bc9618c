"""Draw a generated rope: ellipsoids seen from above, simple shading, a table, a light, faults."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray, IntArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab
from analyser.photo.reading import Photo
from synthetic.planned import Course, albedos, painted_labels
from synthetic.rope_beads import (
    ACCENT,
    BODY,
    DIAMETER,
    LENGTH,
    THIRD,
    Fault,
    Places,
    Rope,
    centreline,
    places,
    solid_beads,
)
from synthetic.rope_finish import Surface, finished, needs_normals
from synthetic.rope_scene import LAMPS, TABLE_LIGHT, light, table, table_level

TABLES = tuple(TABLE_LIGHT)
STRAY = (55.0, 45.0, 45.0)
"""Lab of a stray bead of neither colour, where the rope has no third."""

CLEAR_SHARE = 0.4
"""Of a bead's disc that must be in sight for a fault put there to be one that a maker could see."""

MARGIN_MM = 11.0
"""Bare table round the rope."""

Shading = tuple[FloatArray, FloatArray, FloatArray | None]
"""Diffuse light, gloss, and the coloured light of films where there are any."""


@dataclass(frozen=True)
class Recipe:
    """Everything a drawn rope depends on.

    ``finish_body`` and ``finish_accent`` are one of ``FINISHES``; a third colour is glossy. A metallic bead's
    colour is the tint of its mirror; an iridescent one has a film of ``film_nm`` over its colour.
    With ``third`` the accents of every other round are of that colour. With ``course`` a role changes its
    colour along the rope as planned; a lot change or a stray is then put into its own colour.
    Of stray beads ``strays`` are put, in either role.
    """

    kind: str
    layout: str
    light: str
    table: str
    body: tuple[float, float, float]
    accent: tuple[float, float, float]
    rounds: int
    px_per_mm: float
    twist_deg: float
    roll_deg: float
    seed: int
    every: int = 4
    climb: float = 0.0
    gloss: float = 0.05
    fault: str = "none"
    size: float = 0.0
    fault_role: str = "body"
    at: float = 0.5
    third: tuple[float, float, float] | None = None
    finish_body: str = "glossy"
    finish_accent: str = "glossy"
    film_nm: float = 260.0
    course: Course | None = None
    strays: int = 1


def photo_of(linear: FloatArray) -> Photo:
    """Linear light as a photo that was read, its burnt-out pixels marked."""
    height, width = linear.shape[:2]
    stored = np.clip(linear, 0, 1).astype(np.float32)
    clipped = np.asarray((linear >= 0.995).any(axis=2))
    return Photo(stored, None, clipped, "drawn.jpg", width, height, "sRGB", 1, "0" * 64)


def draw(recipe: Recipe) -> Rope:
    """The rope of a recipe, its faults in it."""
    rng = np.random.default_rng(recipe.seed)
    spots = places(recipe.kind, recipe.rounds, every=recipe.every, climb=recipe.climb)
    line = centreline(recipe.layout, spots.length, rng)
    centre, axis, foot = solid_beads(spots, line, recipe.twist_deg, recipe.roll_deg, rng)
    scale = recipe.px_per_mm
    low = centre[:, :2].min(axis=0) - MARGIN_MM
    width, height = np.ceil((centre[:, :2].max(axis=0) + MARGIN_MM - low) * scale).astype(int).tolist()
    surface = _surface(centre, axis, foot, low, scale, (height, width), recipe)
    if recipe.third is not None:
        turns = (spots.role == ACCENT) & (spots.part == "pattern") & (spots.round % 2 == 1)
        spots = replace(spots, role=np.where(turns, THIRD, spots.role))
    painted = spots.role.copy()
    off_course: list[Fault] = []
    if recipe.course is not None:
        # A draw of its own, so that a rope with a plan is otherwise the one without.
        labels, off_course = painted_labels(
            recipe.course, spots.round, spots.part == "pattern", np.random.default_rng([recipe.seed, 2])
        )
        planned = painted == (BODY if recipe.course.role == "body" else ACCENT)
        painted = np.where(planned & (labels > 0), THIRD + labels, painted)
    look = _finished(surface, painted, recipe)
    albedo = np.array(
        [lab_to_linear(recipe.body), lab_to_linear(recipe.accent), lab_to_linear(recipe.third or STRAY)]
    )
    if recipe.course is not None:
        albedo = np.concatenate([albedo, albedos(recipe.course)])
    albedo = np.clip(albedo, 0.004, 0.95)
    colour = albedo[painted] * rng.normal(1, 0.01, (len(painted), 1))
    faults = off_course + _faults(recipe, spots, surface.ids, look, albedo, colour, painted, rng)
    for fault in faults:
        if fault.bead >= 0:
            x, y = ((centre[fault.bead, :2] - low) * scale).tolist()
            fault.pixel = (x, y)
    # A stray bead has the finish of its colour, not that of its place.
    linear = _lit(surface.ids, colour, _finished(surface, painted, recipe), recipe, rng)
    return Rope(np.clip(linear, 0, 1), surface.ids, (line - low) * scale, DIAMETER * scale, faults)


def _lit(
    ids: npt.NDArray[np.int32], colour: FloatArray, look: Shading, recipe: Recipe, rng: np.random.Generator
) -> npt.NDArray[np.float32]:
    """The beads on their table in the recipe's light, a little blurred and noisy."""
    scale, on = recipe.px_per_mm, ids >= 0
    ground = table(recipe.table, ids.shape, rng)
    shadow = cv2.GaussianBlur(on.astype(np.float32), (0, 0), 1.6 * scale)
    shadow = np.roll(shadow, (round(0.8 * scale), round(0.5 * scale)), (0, 1))
    # Between the beads lies the rope's own inside, where hardly any light comes.
    inside = cv2.morphologyEx(on.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((round(1.6 * scale),) * 2))
    linear = ground * np.where(inside > 0, 0.08, 1 - 0.75 * np.clip(shadow, 0, 1))[..., None]
    diffuse, gloss, film = look
    linear[on] = colour[ids[on]] * diffuse[on][:, None] + gloss[on][:, None]
    if film is not None:
        linear[on] += film[on]
    linear *= light(recipe.light, ids.shape, rng)
    photo = np.asarray(cv2.GaussianBlur(linear.astype(np.float32), (0, 0), 0.6), np.float32)
    noise = rng.normal(0, 1, photo.shape).astype(np.float32)
    photo += noise * np.sqrt(np.maximum(photo, 0) * 8e-5 + 1e-6)
    return photo


def _surface(
    centre: FloatArray,
    axis: FloatArray,
    foot: FloatArray,
    low: FloatArray,
    scale: float,
    shape: tuple[int, int],
    recipe: Recipe,
) -> Surface:
    """Which bead each pixel shows, its diffuse light and its gloss, as if every bead were glossy."""
    height, width = shape
    mirror = needs_normals((recipe.finish_body, recipe.finish_accent))
    normals = np.zeros((*shape, 3)) if mirror else None
    openness = np.zeros(shape) if mirror else None
    depth = np.full(shape, -np.inf)
    ids = np.full(shape, -1, np.int32)
    diffuse, gloss = np.zeros(shape), np.zeros(shape)
    lamps = LAMPS[recipe.light]
    reach = DIAMETER / 2 * scale + 1
    r2, h2 = (DIAMETER / 2) ** -2, (LENGTH / 2 * 1.08) ** -2
    for bead in np.argsort(centre[:, 2]).tolist():
        c, a = centre[bead], axis[bead]
        px, py = (c[:2] - low) * scale
        x0, x1 = max(0, int(px - reach)), min(width, int(px + reach) + 1)
        y0, y1 = max(0, int(py - reach)), min(height, int(py + reach) + 1)
        if x1 <= x0 or y1 <= y0:
            continue
        dx = ((np.arange(x0, x1) + 0.5) / scale + low[0] - c[0])[None]
        dy = ((np.arange(y0, y1) + 0.5) / scale + low[1] - c[1])[:, None]
        m = r2 * np.eye(3) + (h2 - r2) * np.outer(a, a)
        b = m[0, 2] * dx + m[1, 2] * dy
        k = m[0, 0] * dx**2 + 2 * m[0, 1] * dx * dy + m[1, 1] * dy**2 - 1
        root = b**2 - m[2, 2] * k
        hit = root > 0
        dz = (-b + np.sqrt(np.maximum(root, 0))) / m[2, 2]
        z = c[2] + dz
        old = depth[y0:y1, x0:x1]
        seen = hit & (z > old)
        if not seen.any():
            continue
        d = np.stack(np.broadcast_arrays(dx, dy, dz), axis=-1)
        normal = d @ m
        normal /= np.linalg.norm(normal, axis=-1)[..., None]
        # Towards the tube's inside and its underside less of the room is seen.
        radius = np.linalg.norm(d + (c - foot[bead]), axis=-1)
        open_sky = np.clip((radius - 1.2) / 2.4, 0.12, 1.0) * (0.55 + 0.45 * normal[..., 2])
        light = 0.42 * open_sky
        shine = np.zeros_like(light)
        for direction, strength in lamps:
            to = np.array(direction) / np.linalg.norm(direction)
            facing = np.clip(normal @ to, 0, 1)
            light = light + strength * facing * np.clip((radius - 1.0) / 2.0, 0.2, 1)
            half = to + np.array([0, 0, 1.0])
            half /= np.linalg.norm(half)
            shine += 0.5 * strength * np.clip(normal @ half, 0, 1) ** 60
        off_axis = np.linalg.norm(np.cross(d, a), axis=-1)
        hole = (off_axis < 0.36) & (np.abs(d @ a) > 0.35)
        light = np.where(hole, 0.25 * light, light)
        shine = np.where(hole, 0, shine)
        depth[y0:y1, x0:x1] = np.where(seen, z, old)
        ids[y0:y1, x0:x1] = np.where(seen, bead, ids[y0:y1, x0:x1])
        diffuse[y0:y1, x0:x1] = np.where(seen, light, diffuse[y0:y1, x0:x1])
        sheen = recipe.gloss * open_sky * 0.5 + (recipe.gloss > 0) * shine
        gloss[y0:y1, x0:x1] = np.where(seen, sheen, gloss[y0:y1, x0:x1])
        if normals is not None and openness is not None:
            normals[y0:y1, x0:x1][seen] = normal[seen]
            openness[y0:y1, x0:x1][seen] = np.where(hole, 0.15, np.clip((radius - 1.0) / 2.0, 0.2, 1))[seen]
    return Surface(ids, diffuse, gloss, normals, openness)


def _finished(surface: Surface, painted: IntArray, recipe: Recipe) -> Shading:
    finishes = [recipe.finish_body, recipe.finish_accent, "glossy"]
    if recipe.course is not None:
        own = finishes[BODY if recipe.course.role == "body" else ACCENT]
        finishes += [own] * len(recipe.course.colours)
    finish = np.array(finishes)[painted]
    # A draw of its own, so that ropes without films stay as they are; films differ from bead to bead.
    rng = np.random.default_rng([recipe.seed, 1])
    film = rng.normal(1, 0.03, len(painted)) * recipe.film_nm
    sprayed = rng.normal(0, 1, (len(painted), 3))
    sprayed /= np.linalg.norm(sprayed, axis=1)[:, None]
    return finished(surface, finish, film, sprayed, LAMPS[recipe.light], table_level(recipe.table))


def second_lot(
    albedo: FloatArray, size: float, diffuse: float, shine: FloatArray | float, rng: np.random.Generator
) -> tuple[FloatArray, float]:
    """Albedo of a lot that looks ``size`` CIEDE2000 away, in a random direction of Lab, and the size met.

    ``diffuse`` and ``shine`` (a number, or one for each channel) are means over the role's visible pixels in
    white light.
    """
    start = linear_to_lab(albedo)
    look = linear_to_lab(albedo * diffuse + shine)
    for _ in range(40):
        direction = rng.normal(0, 1, 3) * np.array([1.0, 1.0, 1.0])
        direction /= np.linalg.norm(direction)
        low, high = 0.0, 40.0
        for _ in range(40):
            middle = (low + high) / 2
            other = np.clip(lab_to_linear(start + direction * middle), 0.003, 0.97)
            if float(delta_e_2000(look, linear_to_lab(other * diffuse + shine))) < size:
                low = middle
            else:
                high = middle
        other = np.clip(lab_to_linear(start + direction * high), 0.003, 0.97)
        met = float(delta_e_2000(look, linear_to_lab(other * diffuse + shine)))
        if abs(met - size) < 0.05 * size + 0.02:
            return other, met
    return other, met


def _faults(
    recipe: Recipe,
    spots: Places,
    ids: npt.NDArray[np.int32],
    look: Shading,
    albedo: FloatArray,
    colour: FloatArray,
    painted: IntArray,
    rng: np.random.Generator,
) -> list[Fault]:
    """Put the recipe's fault into ``colour`` and ``painted``; what was put."""
    if recipe.fault == "none":
        return []
    role = {"body": BODY, "accent": ACCENT}[recipe.fault_role]
    at = spots.along / spots.length
    visible = np.bincount(ids[ids >= 0], minlength=len(at)) / (np.pi / 4 * (DIAMETER * recipe.px_per_mm) ** 2)
    if recipe.fault == "lot-change":
        on = (ids >= 0) & (painted[np.maximum(ids, 0)] == role)
        diffuse, gloss, film = look
        shine = gloss[on].mean() + (0.0 if film is None else film[on].mean(axis=0))
        lot, met = second_lot(albedo[role], recipe.size, diffuse[on].mean(), shine, rng)
        later = (painted == role) & (at > recipe.at)
        colour[later] *= lot / albedo[role]
        return [Fault("lot-change", recipe.fault_role, recipe.at, de00=met)]
    inner = (at > 0.06) & (at < 0.94) & (spots.part == "pattern")
    if recipe.fault == "stray-bead":
        put: list[Fault] = []
        for number in range(recipe.strays):
            mine = role if number == 0 else int(rng.integers(2))
            able = inner & (visible >= CLEAR_SHARE) & (painted == mine)
            able[[one.bead for one in put]] = False
            bead = int(rng.choice(np.flatnonzero(able)))
            becomes = THIRD if rng.random() < 0.3 else 1 - mine
            painted[bead] = becomes
            colour[bead] = albedo[becomes]
            name = ("body", "accent")[mine]
            put.append(Fault("stray-bead", name, float(at[bead]), bead, visible=float(visible[bead])))
        return put
    if recipe.fault == "plain-round":
        accents = inner & (spots.role == ACCENT)
        shown, counts = np.unique(spots.round[accents & (visible >= CLEAR_SHARE)], return_counts=True)
        gone = accents & (spots.round == int(rng.choice(shown[counts >= 2].tolist())))
        painted[gone] = BODY
        colour[gone] = albedo[BODY]
        return [Fault("plain-round", "accent", float(at[gone].mean()))]
    raise ValueError(f"no fault {recipe.fault!r}")
