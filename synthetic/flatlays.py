"""Draws flat-lays as phones see them: with a real grey or white card, or something that only looks like one.

All is invented: reflectances, prints, lamps, camera. Drawn in linear light, then treated as a phone treats a
photo: partly balanced white, tone curve, saturation, noise taken away, sharpening, JPEG.
Same seed, same picture.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
import numpy.typing as npt

from analyser.arrays import FloatArray
from analyser.colour.spaces import lab_to_linear, linear_to_lab, linear_to_srgb, relative_luminance

WIDTH, HEIGHT = 720, 540

NO_CARDS = (
    "nothing",
    "phone",
    "book",
    "envelope",
    "notebook",
    "cream wall",
    "chequered floor",
    "swatches",
    "note",
)
CARDS = ("white", "grey", "both", "white on white paper")
GROUNDS = ("plain", "paper", "textured", "printed", "coloured")

# Lamps as linear sRGB of white: common practice, no source, within a few hundredths of black bodies.
LAMPS = {
    "daylight": (1.0, 1.0, 1.0),
    "shade": (0.84, 0.97, 1.18),
    "evening sun": (1.18, 0.97, 0.72),
    "neutral LED": (1.06, 1.0, 0.80),
    "lamp of 2900 K": (1.55, 0.92, 0.36),
    "lamp of 2000 K": (2.05, 0.80, 0.13),
    "greenish tube": (1.02, 1.03, 0.72),
}


@dataclass(frozen=True, eq=False)
class Thing:
    """Something flat in the picture: what it is, where (in pixels), and its Lab in even white light."""

    name: str
    polygon: FloatArray
    lab: FloatArray


@dataclass(frozen=True, eq=False)
class FlatLay:
    """A drawn photo and its truth.

    Attributes
    ----------
    pixels : uint8 ndarray, shape (HEIGHT, WIDTH, 3)
    cards : tuple of Thing
        Real ones, named ``white`` or ``grey``.
    decoys : tuple of Thing
    colours : tuple of Thing
        Round pieces of cloth whose true colour is known.
    case, ground, lamp : str
    """

    pixels: npt.NDArray[np.uint8]
    cards: tuple[Thing, ...]
    decoys: tuple[Thing, ...]
    colours: tuple[Thing, ...]
    case: str
    ground: str
    lamp: str


@dataclass
class _Canvas:
    """Reflectance and shade under construction."""

    random: np.random.Generator
    reflectance: FloatArray
    shade: FloatArray
    taken: list[tuple[float, float, float]] = field(default_factory=list)
    shadow_to: FloatArray = field(default_factory=lambda: np.zeros(2))

    def place(self, radius: float) -> tuple[float, float]:
        """A free place for something of that radius, in pixels of the finished photo."""
        best, room = (WIDTH / 2, HEIGHT / 2), -np.inf
        for _ in range(60):
            x = self.random.uniform(0.7 * radius, WIDTH - 0.7 * radius)
            y = self.random.uniform(0.7 * radius, HEIGHT - 0.7 * radius)
            gap = min((np.hypot(x - a, y - b) - r - radius for a, b, r in self.taken), default=1e9)
            if gap > room:
                best, room = (x, y), gap
            if gap > 4:
                break
        self.taken.append((*best, radius))
        return best

    def lay(self, polygon: FloatArray, linear: FloatArray, mottle: float = 0.0, height: float = 1.0) -> None:
        """Lay a polygon down: its shadow falls on what lies below, then it covers that.

        ``mottle`` is the standard deviation of its log reflectance, ``height`` how far it casts its shadow.
        """
        reach = 2.0 * height
        margin = int(3 * reach + 6)
        left, top = np.maximum(polygon.min(axis=0).astype(int) - margin, 0)
        right, bottom = polygon.max(axis=0).astype(int) + margin
        window = np.s_[top:bottom, left:right]
        shade, reflectance = self.shade[window], self.reflectance[window]
        if shade.size == 0:
            return
        cover_u8 = np.zeros(shade.shape, np.uint8)
        corners = np.round((polygon - [left, top]) * 16).astype(np.int32)
        cv2.fillPoly(cover_u8, [corners], 255, cv2.LINE_AA, shift=4)
        cover = cover_u8.astype(np.float32) / 255
        moved = np.array([[1, 0, self.shadow_to[0] * reach], [0, 1, self.shadow_to[1] * reach]], np.float32)
        cast = cv2.GaussianBlur(cv2.warpAffine(cover, moved, cover.shape[::-1]), (0, 0), 0.8 * reach + 0.5)
        contact = cv2.GaussianBlur(cover, (0, 0), 1.2)
        shade *= 1 - 0.35 * np.maximum(cast, 0.5 * contact)
        shade += cover * (1 - shade)
        own = np.broadcast_to(np.asarray(linear, np.float32), reflectance.shape)
        if mottle:
            own = (
                own
                * np.exp(_grain(self.random, cover.shape, 1.5 if mottle < 0.3 else 2.3, mottle))[..., None]
            )
        reflectance += cover[..., None] * (own - reflectance)


def draw(seed: int, case: str | None = None, ground: str | None = None) -> FlatLay:
    """A flat-lay; what is not told is drawn by lot."""
    random = np.random.default_rng([2900, seed])
    case = case or str(random.choice(NO_CARDS + CARDS))
    ground = ground or str(random.choice(GROUNDS))
    if case == "white on white paper":
        ground = "paper"
    canvas = _ground(random, case, ground)
    if random.random() < 0.4:
        _rope(canvas)
    cards, decoys = _cards(canvas, case), _decoys(canvas, case)
    colours = tuple(_things(canvas))
    lamp = str(random.choice(list(LAMPS)))
    light = canvas.reflectance * canvas.shade[..., None] * _lamp(random, lamp, canvas.shade.shape)
    return FlatLay(phone(random, light), cards, decoys, colours, case, ground, lamp)


def _grain(
    random: np.random.Generator, shape: tuple[int, ...], size_px: float, strength: float
) -> FloatArray:
    """Log-normal mottle of that grain size (finished pixels) and standard deviation, shape (h, w)."""
    grain = cv2.GaussianBlur(random.standard_normal(shape[:2], np.float32), (0, 0), size_px)
    return np.asarray(grain * (strength / grain.std()), np.float32)


def _colour(
    random: np.random.Generator, lightness: tuple[float, float], chroma: tuple[float, float]
) -> FloatArray:
    """A colour (linear sRGB) of that lightness and chroma that a screen can show."""
    while True:
        hue, c = random.uniform(0, 2 * np.pi), random.uniform(*chroma)
        linear = lab_to_linear([random.uniform(*lightness), c * np.cos(hue), c * np.sin(hue)])
        if linear.min() > 0.003 and linear.max() < 0.97:
            return np.asarray(linear, np.float32)


def _ground(random: np.random.Generator, case: str, kind: str) -> _Canvas:
    h, w = HEIGHT, WIDTH
    angle = random.uniform(0, 2 * np.pi)
    canvas = _Canvas(random, np.ones((h, w, 3), np.float32), np.ones((h, w), np.float32))
    canvas.shadow_to = np.array([np.cos(angle), np.sin(angle)])
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    turn = random.uniform(-0.3, 0.3)
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    if case == "cream wall":
        linear = lab_to_linear([random.uniform(80, 93), random.uniform(-1, 4), random.uniform(5, 17)])
        canvas.reflectance[:] = linear * np.exp(_grain(random, (h, w), 3, 0.012))[..., None]
    elif case == "chequered floor":
        side = random.uniform(60, 170)
        dark = _colour(random, (12, 60), (0, 10))
        light = _colour(random, (65, 94), (0, 9))
        odd = (np.floor(u / side) + np.floor(v / side)) % 2 > 0.5
        canvas.reflectance[:] = np.where(odd[..., None], dark, light)
        joint = np.minimum(u % side, v % side) < random.uniform(0, 3)
        canvas.reflectance[joint] = _colour(random, (30, 80), (0, 6))
    elif kind == "paper":
        linear = lab_to_linear([random.uniform(91, 96), random.uniform(-0.5, 1.5), random.uniform(-5, 3)])
        canvas.reflectance[:] = linear * np.exp(_grain(random, (h, w), 1, 0.004))[..., None]
    elif kind == "plain":
        linear = _colour(random, (20, 85), (0, 14))
        canvas.reflectance[:] = (
            linear * np.exp(_grain(random, (h, w), 1.5, random.uniform(0.005, 0.04)))[..., None]
        )
    elif kind == "coloured":
        linear = _colour(random, (25, 85), (15, 55))
        canvas.reflectance[:] = (
            linear * np.exp(_grain(random, (h, w), 1.5, random.uniform(0.005, 0.08)))[..., None]
        )
    elif kind == "textured":
        linear = _colour(random, (25, 80), (3, 28))
        grain = _grain(random, (h, w), random.uniform(1, 3), random.uniform(0.05, 0.25))
        if random.random() < 0.5:  # wood: long along one side
            noise = random.standard_normal((h, w), np.float32)
            wood = np.asarray(cv2.GaussianBlur(noise, (0, 0), sigmaX=60.0, sigmaY=3.0), np.float32)
            grain = wood * (random.uniform(0.08, 0.3) / wood.std())
        canvas.reflectance[:] = linear * np.exp(grain)[..., None]
    else:
        _print_on(canvas, u, v)
    return canvas


def _print_on(canvas: _Canvas, u: FloatArray, v: FloatArray) -> None:
    """Printed cloth: stripes, checks or flowers in two or three colours, with a weave."""
    random = canvas.random
    first, second, third = (_colour(random, (20, 92), (0, 50)) for _ in range(3))
    pitch = random.uniform(25, 110)
    kind = int(random.integers(3))
    canvas.reflectance[:] = first
    if kind == 0:
        canvas.reflectance[(u % pitch) < random.uniform(0.2, 0.6) * pitch] = second
    elif kind == 1:
        across, down = (u % pitch) < 0.5 * pitch, (v % pitch) < 0.5 * pitch
        canvas.reflectance[across ^ down] = second
        canvas.reflectance[across & down] = third
    else:
        row = np.floor(v / pitch)
        x, y = (u + 0.5 * pitch * (row % 2)) % pitch - 0.5 * pitch, v % pitch - 0.5 * pitch
        radius, around = np.hypot(x, y), np.arctan2(y, x)
        petals = int(random.integers(4, 8))
        canvas.reflectance[radius < pitch * (0.22 + 0.12 * np.cos(petals * around))] = second
        canvas.reflectance[radius < 0.09 * pitch] = third
    canvas.reflectance *= np.exp(_grain(random, canvas.shade.shape, 1, random.uniform(0.02, 0.1)))[..., None]


def _rectangle(canvas: _Canvas, shorter: float, ratio: float) -> FloatArray:
    """Corners (4, 2) of a turned rectangle at a free place, seen a little from the side."""
    random = canvas.random
    a, b = shorter / 2 * ratio, shorter / 2
    x, y = canvas.place(float(np.hypot(a, b)))
    reach = float(np.hypot(a, b)) + 4  # all of it in the frame
    x, y = float(np.clip(x, reach, WIDTH - reach)), float(np.clip(y, reach, HEIGHT - reach))
    turn = random.uniform(-0.6, 0.6) + (np.pi / 2 if random.random() < 0.4 else 0)
    corners = np.array([[-a, -b], [a, -b], [a, b], [-a, b]])
    corners = corners @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    lean = random.normal(size=2) * 1e-4
    return np.asarray(corners / (1 + corners @ lean)[:, None] + [x, y])


def _cards(canvas: _Canvas, case: str) -> tuple[Thing, ...]:
    random = canvas.random
    kinds = {"white": ("white",), "grey": ("grey",), "both": ("white", "grey")}.get(case, ())
    if case == "white on white paper":
        kinds = ("white",)
    found = []
    shorter, ratio = random.uniform(60, 170), random.uniform(1.0, 1.8)
    if case == "both" and random.random() < 0.5:  # side by side in one frame
        shorter = min(shorter, 105)
    for kind in kinds:
        corners = _rectangle(canvas, shorter, ratio)
        level = random.normal(0.90, 0.012) if kind == "white" else random.normal(0.18, 0.006)
        lightness = 116 * np.cbrt(level) - 16
        lab = np.array([lightness, random.normal(0, 0.4), random.normal(0, 0.7)])
        canvas.lay(corners, lab_to_linear(lab), 0.003, random.uniform(0.3, 1.5))
        found.append(
            Thing(kind, corners, np.array([116 * np.cbrt(0.9 if kind == "white" else 0.18) - 16, 0, 0]))
        )
    return tuple(found)


def _decoys(canvas: _Canvas, case: str) -> tuple[Thing, ...]:
    random = canvas.random
    if case == "swatches":
        return _swatches(canvas)
    if case not in ("phone", "book", "envelope", "notebook", "note"):
        return ()
    shorter = random.uniform(75, 190)
    ratio = {"phone": 2.05, "book": 1.45, "envelope": 1.6, "notebook": 1.35, "note": 1.0}[case]
    corners = _rectangle(canvas, shorter, ratio)
    ways = {
        "phone": (_colour(random, (8, 60), (0, 8)), 0.0, 3.0),
        "book": (_colour(random, (20, 85), (4, 55)), 0.01, 4.0),
        "envelope": (
            lab_to_linear([random.uniform(75, 94), random.uniform(-1, 4), random.uniform(-2, 22)]),
            0.006,
            0.5,
        ),
        "notebook": (_colour(random, (15, 92), (0, 40)), 0.01, 2.0),
        "note": (_colour(random, (70, 93), (5, 45)), 0.004, 0.4),
    }
    linear, mottle, height = ways[case]
    canvas.lay(corners, linear, mottle, height)
    centre, across, down = corners.mean(axis=0), corners[1] - corners[0], corners[3] - corners[0]
    ink = np.asarray(linear) * (0.25 if relative_luminance(linear) > 0.2 else 1.0) + (
        0.0 if relative_luminance(linear) > 0.2 else 0.35
    )

    def bar(x: float, y: float, wide: float, high: float, colour: FloatArray) -> None:
        at = centre + x * across + y * down
        box = np.array([[-wide, -high], [wide, -high], [wide, high], [-wide, high]]) / 2
        canvas.lay(at + box[:, :1] * across + box[:, 1:] * down, colour, 0, 0.05)

    if case == "phone" and random.random() < 0.6:  # its lit or dark glass
        bar(0, 0, 0.95, 0.9, _colour(random, (3, 55), (0, 20)))
    if case == "book" and random.random() < 0.8:
        bar(0, -0.2, random.uniform(0.4, 0.8), 0.08, ink)
        bar(0, 0.3, random.uniform(0.2, 0.5), 0.04, ink)
    if case == "envelope" and random.random() < 0.5:
        bar(0.4, -0.33, 0.1, 0.2, _colour(random, (30, 70), (10, 50)))
    if case == "notebook" and random.random() < 0.6:
        for line in np.linspace(-0.38, 0.38, 12):
            bar(0.02, float(line), 0.9, 0.006, ink)
    return (Thing(case, corners, linear_to_lab(linear)),)


def _swatches(canvas: _Canvas) -> tuple[Thing, ...]:
    """24 printed squares in four rows, in colours of their own: a fan of paints, a yarn card."""
    random = canvas.random
    pitch, turn = random.uniform(30, 60), random.uniform(-0.4, 0.4)
    x, y = canvas.place(3.4 * pitch)
    rotate = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    paper = np.array([[-3.3, -2.3], [3.3, -2.3], [3.3, 2.3], [-3.3, 2.3]]) * pitch @ rotate + [x, y]
    canvas.lay(paper, _colour(random, (60, 95), (0, 6)), 0.004, 0.4)
    things = []
    for index in range(24):
        at = np.array([index % 6 - 2.5, index // 6 - 1.5])
        box = (np.array([[-0.4, -0.4], [0.4, -0.4], [0.4, 0.4], [-0.4, 0.4]]) + at) * pitch @ rotate + [x, y]
        linear = _colour(random, (15, 92), (0, 60))
        canvas.lay(box, linear, 0.003, 0.05)
        things.append(Thing("swatch", box, linear_to_lab(linear)))
    return tuple(things)


def _rope(canvas: _Canvas) -> None:
    """A rope of beads across the picture; what is laid later may cover it."""
    random = canvas.random
    along = np.linspace(0, WIDTH, 60)
    line = random.uniform(0.2, 0.8) * HEIGHT + random.uniform(10, 60) * np.sin(
        along / random.uniform(90, 250)
    )
    polygon = np.concatenate([np.stack([along, line - 13], -1), np.stack([along, line + 13], -1)[::-1]])
    canvas.lay(polygon, _colour(random, (15, 85), (0, 60)), 0.5, 3.0)


def _things(canvas: _Canvas) -> list[Thing]:
    """What else lies there: round cloth of known colour, heaps of beads, a rope, bowls, ribbon."""
    random = canvas.random
    found = []
    turns = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    ring = np.stack([np.cos(turns), np.sin(turns)], axis=-1)
    for _ in range(6):
        radius = random.uniform(22, 36)
        polygon = ring * radius + canvas.place(radius)
        linear = _colour(random, (15, 90), (0, 60))
        canvas.lay(polygon, linear, 0.02, 1.0)
        found.append(Thing("cloth", polygon, linear_to_lab(linear)))
    for _ in range(int(random.integers(0, 4))):  # beads
        radius, linear = random.uniform(20, 48), _colour(random, (15, 85), (0, 60))
        canvas.lay(ring * radius + canvas.place(radius), linear, 0.5, 2.0)
    if random.random() < 0.5:  # porcelain, nearly white, and a neutral thing
        radius = random.uniform(30, 70)
        canvas.lay(ring * radius + canvas.place(radius), _colour(random, (80, 95), (0, 5)), 0.01, 4.0)
    if random.random() < 0.4:
        radius = random.uniform(20, 45)
        canvas.lay(ring * radius + canvas.place(radius), _colour(random, (20, 75), (0, 2)), 0.05, 2.0)
    return found


def _lamp(random: np.random.Generator, lamp: str, shape: tuple[int, ...]) -> FloatArray:
    """Light over the frame, shape (h, w, 3): uneven, perhaps mixed, as the camera balanced and exposed it."""
    white = np.array(LAMPS[lamp]) * np.exp(random.normal(0, 0.03, 3))
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    x, y = x / shape[1] - 0.5, y / shape[0] - 0.5
    fall = random.normal(0, 0.25, 2)
    level = np.exp(fall[0] * x + fall[1] * y - random.uniform(0, 0.5) * (x**2 + y**2))
    # phones take most of a cast away, seldom all; a camera set to daylight takes none
    balanced = white ** (1.0 if random.random() < 0.25 else 1 - random.beta(3, 1.2))
    balanced = balanced / balanced.max() * random.choice([0.55, 0.75, 0.9, 1.05], p=[0.15, 0.3, 0.4, 0.15])
    mixed = random.normal(0, 0.12) if random.random() < 0.3 else 0.0
    tint = np.stack([np.exp(mixed * x), np.ones_like(x), np.exp(-mixed * x)], axis=-1)
    return np.asarray(level[..., None] * tint * balanced, np.float32)


def phone(random: np.random.Generator, light: FloatArray) -> npt.NDArray[np.uint8]:
    """What a phone makes of the light: a quarter of the photos plain, the others with all that phones do."""
    linear = cv2.GaussianBlur(light, (0, 0), random.uniform(0.4, 1.1))
    noise = random.uniform(0.002, 0.012)
    linear = linear + noise * random.standard_normal(linear.shape, np.float32) * np.sqrt(
        np.maximum(linear, 0) + 0.002
    )
    look = 0.0 if random.random() < 0.25 else random.uniform(0.3, 1.0)
    if look:
        grey = relative_luminance(np.clip(linear, 0, None))[..., None]
        linear = grey + (1 + 0.22 * look) * (linear - grey)  # more colour
    srgb: npt.NDArray[np.float32] = linear_to_srgb(np.clip(linear, 0, 1)).astype(np.float32)
    if look:
        srgb = srgb + 0.35 * look * (srgb * srgb * (3 - 2 * srgb) - srgb)  # tone curve
        calm = np.asarray(
            cv2.bilateralFilter(srgb, 5, 0.03 + 0.03 * look, 1.5), np.float32
        )  # noise taken away
        srgb = calm + 0.7 * look * (calm - cv2.GaussianBlur(calm, (0, 0), 1.2))  # sharpened
    pixels = np.round(np.clip(srgb, 0, 1) * 255).astype(np.uint8)
    quality = int(random.integers(60, 95))
    _, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.ascontiguousarray(np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)[..., ::-1])
