"""Which roles of a rope look metallic or iridescent: their colour hangs on the angle, not on the bead alone.

A plain bead shows its own colour, lit more or less, and on it the lamp's white: its pixels lie on one line
of chromaticity whatever the lamp's colour is, and its middle is lit nearly evenly. Metal mirrors the room,
light and dark side by side. A thin film has its own hue at each angle, off any such line. Each bead is
compared with itself only, so that light, lots and stray beads do not count.

Sources
-------
Shafer (1985), Color Res. Appl. 10(4), 210-218, for the two parts of a bead's light, its own and the lamp's.
CIE 116-1995 for the weight of chroma. That mirrors and films look so: common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analyser.arrays import BoolArray, FloatArray
from analyser.colour.spaces import linear_to_lab
from analyser.imaging.logs import SHADE_FLOOR
from analyser.rope.placing import Placed

Kind = Literal["plain", "metallic", "iridescent"]

REACH = 0.32
"""Radius, in bead diameters, of the disc looked at in each bead. Farther out gaps and neighbours come in:
plain beads of rendered photos reached a contrast of 0.58 with 0.32, of 0.80 with 0.40 and 1.23 with 0.46."""

WIDEST = 0.7
"""Beads farther out than this share of the radius are left out: seen at a slant, against the table."""

LEAST_BEADS = 8
"""Beads a role needs to be looked at."""

CONTRAST = 0.75
"""Log ratio of a metallic bead's light part to its dark part. Of 569 plain roles in ordinary light the most
was 0.75 (a dark gloss), under a bare low lamp 1.3; drawn metals had 0.3 to 2.1, path-traced gold 1.2 and 0.8.
"""

LEAD = 0.52
"""How much more contrast a metallic role has than the rope's calmest other role, which the same lamp
shades. Between plain roles it was 0.50 at most, under the bare lamp 0.49; half of the metals have 0.6."""

ALONE = 1.5
"""Contrast that needs no other role to compare with: above the bare lamp's 1.3 on plain beads."""

HUES = 1.25
"""Chroma (weighted after CIE 116) by which iridescent beads leave the line from their own colour to their
sheen. Of 662 plain roles one had 1.4 (vivid green in amber light, not balanced), the others at most 1.13;
drawn films of 120 to 420 nm had 0.3 to 2.9, the pale ones and those on light beads the least."""

# Share of metallic and iridescent roles among drawn ones whose figure, over where its kind begins, has that
# log; a fifth of the 437 were such.
_RATIO_LOGS = (-0.7, -0.4, -0.22, -0.07, 0.07, 0.3)
_SPECIAL = (0.05, 0.36, 0.44, 0.85, 0.9, 0.98)
_DIRECTIONS = np.linspace(0, np.pi, 60, endpoint=False)  # 3 degrees apart


@dataclass(frozen=True, slots=True)
class Sheen:
    """How the beads of a role answer to the angle.

    Attributes
    ----------
    kind : str
        ``plain``, ``metallic`` or ``iridescent``.
    contrast : float
        Log ratio of a bead's light part to its dark part, the median of its beads; 0 or more.
    lead : float
        Contrast less that of the calmest other role; NaN where there is none to compare with.
    hues : float
        How far, in weighted chroma, the light parts lie off the line from own colour to sheen; 0 or more.
    sure : float
        Of ``kind``, 0..1: its share among drawn ropes of such figures, a fifth of whose roles were not plain.
        Below 0.5 a role is called plain only not to accuse it wrongly. 0.5 where too few beads were seen.
    """

    kind: Kind
    contrast: float
    lead: float
    hues: float
    sure: float


def sheens(placed: Placed) -> dict[int, Sheen]:
    """The sheen of each role of a placed rope.

    Made to be wrong towards ``plain``: soft metals in an even white room, and pale films, pass for plain.

    Returns
    -------
    dict
        By index of the role in ``placed``; every role is there.
    """
    discs = {role: _discs(placed, role) for role in range(len(placed.posterior))}
    seen = {role: disc for role, disc in discs.items() if len(disc[0]) >= LEAST_BEADS}
    contrasts = {role: _contrast(light) for role, (light, _) in seen.items()}
    found = {}
    for role in discs:
        if role not in seen:
            found[role] = Sheen("plain", 0.0, np.nan, 0.0, 0.5)
            continue
        others = [contrast for other, contrast in contrasts.items() if other != role]
        lead = contrasts[role] - min(others) if others else np.nan
        found[role] = _judge(contrasts[role], lead, _hues(*seen[role]))
    return found


def _judge(contrast: float, lead: float, hues: float) -> Sheen:
    # Each as a ratio to where its kind begins.
    metal = contrast / ALONE
    if np.isfinite(lead):
        metal = max(metal, min(contrast / CONTRAST, lead / LEAD))
    film = hues / HUES
    kind: Kind = "plain" if max(metal, film) < 1 else "metallic" if metal >= film else "iridescent"
    ratio = max(metal, film, 1e-3)
    special = float(np.interp(np.log(ratio), _RATIO_LOGS, _SPECIAL))
    return Sheen(kind, contrast, float(lead), hues, special if kind != "plain" else 1 - special)


def _discs(placed: Placed, role: int) -> tuple[FloatArray, BoolArray]:
    """Light (beads, pixels, 3) and clipping (beads, pixels) of each bead's disc, darkest pixel first."""
    strip, beads = placed.strip, placed.beads
    keep = (beads.role == role) & (np.abs(beads.row - strip.middle) < WIDEST * strip.radius)
    keep &= (beads.column > strip.start + placed.bead) & (beads.column < strip.stop - placed.bead)
    reach = int(REACH * placed.bead)
    down, along = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    inside = down**2 + along**2 <= (REACH * placed.bead) ** 2
    centre = np.round(beads.column[keep]).astype(int)
    column = np.clip(centre[:, None] + along[inside], 0, strip.linear.shape[1] - 1)
    row = np.round(beads.row[keep]).astype(int)[:, None] + down[inside]
    row = np.clip(row, 0, strip.linear.shape[0] - 1)
    # The light's colour differs along a rope between two lamps; its brightness is the same over one bead.
    tint = (placed.light - np.median(placed.light[strip.start : strip.stop], axis=0))[
        np.clip(centre, 0, len(placed.light) - 1)
    ]
    even = np.exp(-np.stack([tint[:, 1], np.zeros(len(tint)), tint[:, 2]], axis=-1))
    light = np.maximum(strip.linear[row, column], 0) * even[:, None]
    order = np.argsort(light.mean(axis=-1), axis=1)
    return (
        np.take_along_axis(light, order[..., None], axis=1),
        np.take_along_axis(strip.clipped[row, column], order, axis=1),
    )


def _part(values: FloatArray, low: float, high: float) -> FloatArray:
    """Mean of each bead's pixels between two shares of their number, shape (beads, ...)."""
    count = values.shape[1]
    start = int(low * count)
    return np.asarray(values[:, start : max(int(high * count), start + 1)].mean(axis=1))


def _contrast(light: FloatArray) -> float:
    # Neither the highlight, which plain gloss has too, nor hole and gap: the broad light and dark.
    grey = light.mean(axis=-1)
    parts = [np.log(_part(grey, low, low + 0.2) + SHADE_FLOOR) for low in (0.15, 0.65)]
    return float(np.median(parts[1] - parts[0]))


def _hues(light: FloatArray, clipped: BoolArray) -> float:
    """Within what distance of the best line through their middles' colour 68 % of beads' light parts lie."""
    middle = linear_to_lab(_part(light, 0.3, 0.6))
    weight = 1 / (1 + 0.045 * float(np.hypot(*np.median(middle, axis=0)[1:])))
    steps = []
    for low, high in ((0.65, 0.85), (0.88, 0.98)):
        # A clipped channel bends the line.
        whole = _part(clipped.astype(float), low, high) == 0
        steps.append((linear_to_lab(_part(light, low, high)) - middle)[whole, 1:])
    vectors = np.concatenate(steps) * weight
    if len(vectors) < LEAST_BEADS:
        return 0.0
    normals = np.stack([np.cos(_DIRECTIONS), np.sin(_DIRECTIONS)])
    # 68 %: a normal distribution's standard deviation, blind to stray beads and misplaced centres.
    return float(np.quantile(np.abs(vectors @ normals), 0.68, axis=0).min())
