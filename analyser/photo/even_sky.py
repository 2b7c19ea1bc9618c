"""What beads send back under an even sky, told from a photo that was calibrated by something flat.

A flat card or sheet faces the lamps; beads turn their sides away, and what glass and metal mirror there is
dark. Beads come out darker than an even sky, which lights all sides, would show them.

Sources
-------
A sphere far from others, lit from 45 degrees, sends back 0.85 of that (Lambert's law, integrated over its
disc). Of the light an even sky would give, 36 path-traced heaps of opaque and coated beads in four trays sent
back 0.96 in the mean, 12 of glass and metal 0.92 (mask and light known exactly), whatever the lamps were.
"""

from __future__ import annotations

from analyser.arrays import FloatArray
from analyser.colour.spaces import linear_to_lab

COATED = 1.04
"""Light of opaque and coated beads under an even sky, over what they send back under lamps."""

GLASS_AND_METAL = 1.07


def bead_lab(linear: FloatArray, over_lamps: float = COATED) -> FloatArray:
    """Lab under an even sky of beads' calibrated linear light, shapes (..., 3)."""
    return linear_to_lab(linear * over_lamps)
