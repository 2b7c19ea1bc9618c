"""Stretches drawn up less tightly than the rest: a remark, no fault of colour."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analyser.rope.rise import RiseCourse

SLACK_FROM = 1.06
"""Rise over the usual one from which a stretch is slack. Of 26 rendered ropes without slack whose
motif tells the rise the most was 1.037, in four with a stretch of 1.12 it was 1.11 to 1.12."""

SHORTEST = 0.04
"""Share of the length a stretch must have: less is a single wide round."""

CLEARER = 0.25
"""Gain of a stretch in the median, or it fits the usual rise as well: 0.32 to 0.49 in four slack stretches of
rendered ropes, 0.18 at most where even drawn ropes, mostly spirals and rows, passed for wider."""

_LEAST_SPREAD = 0.01  # of the rise of evenly worked rope, as hands work


@dataclass(frozen=True, slots=True)
class Slack:
    """A stretch drawn up less tightly.

    Attributes
    ----------
    start, stop : float
        Fractions of the length.
    ratio : float
        Its rise over the usual one, in the middle of the stretch.
    confidence : float
        1 minus the chance of such a rise in evenly worked rope, its spread taken from the rest.
    """

    start: float
    stop: float
    ratio: float
    confidence: float


def slack_stretches(rise: RiseCourse | None) -> list[Slack]:
    """All slack stretches of a rope, in order along it; none where the motif does not tell."""
    from scipy.special import ndtr

    if rise is None:
        return []
    high = rise.ratio >= SLACK_FROM
    rest = rise.ratio[~high]
    spread = max(_LEAST_SPREAD, 1.4826 * float(np.median(np.abs(rest - 1)))) if len(rest) else _LEAST_SPREAD
    edges = np.flatnonzero(np.diff(np.concatenate([[False], high, [False]]).astype(int)))
    found = []
    for first, last in edges.reshape(-1, 2):
        start, stop = float(rise.at[first]), float(rise.at[last - 1])
        if stop - start >= SHORTEST and np.median(rise.gain[first:last]) >= CLEARER:
            ratio = float(np.percentile(rise.ratio[first:last], 75))
            found.append(Slack(start, stop, ratio, float(ndtr((ratio - 1) / spread))))
    return found
