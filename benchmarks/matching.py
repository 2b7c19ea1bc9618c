"""The nearest beads of a large stock, against scikit-image over all pairs in the same run.

    python -m benchmarks.matching

Prints, for several kinds of colours, the time of finding the 3 nearest of 50,000 beads for each of 16
colours, that of the peer's whole table with its smallest three, and the ratio, which must reach 10 on the
first two: colours anywhere in sRGB, and the palette of a photo against a stock that has something near. The
third is hard on purpose: a stock of eighty clumps, most colours far from all of them. Rounds are
interleaved, the times their medians. The answers are compared: same beads, same differences within 1e-9.
"""

from __future__ import annotations

import argparse
import statistics
import time

import numpy as np
from skimage.color import deltaE_ciede2000

from analyser.arrays import FloatArray
from analyser.colour.nearest import nearest_2000
from analyser.colour.spaces import srgb_to_lab

NEAREST = 3


def cases(rng: np.random.Generator, colours: int, beads: int) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Colours and stocks by name."""
    anywhere = srgb_to_lab(rng.random((beads, 3)))
    near = anywhere[rng.integers(0, beads, colours)] + rng.normal(0, 1.5, (colours, 3))
    clumps = srgb_to_lab(rng.random((80, 3)))[rng.integers(0, 80, beads)] + rng.normal(0, 2, (beads, 3))
    limits = [0, -128, -128], [100, 128, 128]
    return {
        "anywhere in sRGB": (srgb_to_lab(rng.random((colours, 3))), anywhere),
        "something near": (np.clip(near, *limits), anywhere),
        "eighty clumps": (srgb_to_lab(rng.random((colours, 3))), np.clip(clumps, *limits)),
    }


def by_table(colours: FloatArray, beads: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The peer: every pair, then the smallest."""
    table = deltaE_ciede2000(colours[:, None], beads[None])
    indices = np.argpartition(table, NEAREST, axis=1)[:, :NEAREST]
    return indices, np.sort(np.take_along_axis(table, indices, axis=1), axis=1)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--colours", type=int, default=16)
    parser.add_argument("--beads", type=int, default=50_000)
    parser.add_argument("--rounds", type=int, default=7)
    given = parser.parse_args()
    rng = np.random.default_rng(1931)
    print(f"{given.colours} colours against {given.beads} beads, {NEAREST} nearest; must reach 10")
    for name, (colours, beads) in cases(rng, given.colours, given.beads).items():
        ours, theirs = [], []
        for _ in range(given.rounds):
            start = time.perf_counter()
            _, de00 = nearest_2000(colours, beads, NEAREST)
            ours.append(time.perf_counter() - start)
            start = time.perf_counter()
            _, expected = by_table(colours, beads)
            theirs.append(time.perf_counter() - start)
        np.testing.assert_allclose(de00, expected, rtol=0, atol=1e-9)
        mine, peer = statistics.median(ours), statistics.median(theirs)
        print(
            f"{name:18} analyser {1e3 * mine:6.1f} ms   scikit-image {1e3 * peer:6.1f} ms   "
            f"ratio {peer / mine:5.1f}"
        )


if __name__ == "__main__":
    main()
