"""All pairs of a large stock, against scikit-image's full matrix in the same run.

    python benchmarks/pair_search.py

Prints extra memory and time of finding the best 200 of all unordered pairs of 5,000 colours beside the time
of the peer's full matrix, by the clock and of the processor (fairer on a busy machine). The ratio must reach
2.5 within 32 MiB; 8 is the stretch. The peer's matrix is made in strips, so that its 5.6 GB are not needed
and its time is at its best; the answers are compared.
"""

from __future__ import annotations

import argparse
import time
import tracemalloc

import numpy as np
from skimage.color import deltaE_ciede2000

from analyser.arrays import FloatArray
from analyser.colour.pair_search import best_pairs
from analyser.colour.spaces import srgb_to_lab

KEPT = 200


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--colours", type=int, default=5000)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    rng = np.random.default_rng(2000)
    labs = srgb_to_lab(rng.random((options.colours, 3)))
    fit = rng.gamma(2.0, 2.0, options.colours)

    def cost(first: FloatArray, second: FloatArray, de00: FloatArray) -> FloatArray:
        """Contrast short of 25, and how far each bead is from the colour it stands for."""
        return np.maximum(25.0 - de00, 0.0) + fit[first] + fit[second]

    ours, theirs = [], []
    for _ in range(options.rounds):
        start = time.perf_counter(), time.process_time()
        pairs, _, costs = best_pairs(labs, KEPT, cost)
        ours.append((time.perf_counter() - start[0], time.process_time() - start[1]))
        start = time.perf_counter(), time.process_time()
        expected = by_matrix(labs, cost, strip=100)
        theirs.append((time.perf_counter() - start[0], time.process_time() - start[1]))
    np.testing.assert_allclose(costs, expected, rtol=0, atol=1e-9)
    tracemalloc.start()
    best_pairs(labs, KEPT, cost)
    extra = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    count = options.colours * (options.colours - 1) // 2
    print(f"{count} unordered pairs of {options.colours} colours, best {len(pairs)} kept")
    print(f"extra memory {extra:.1f} MiB (must stay within 32)")
    for clock, name in enumerate(("by the clock", "processor time")):
        mine, peer = (min(times[clock] for times in side) for side in (ours, theirs))
        print(
            f"{name:14} analyser {mine:6.2f} s   scikit-image {peer:6.2f} s   ratio {peer / mine:5.1f} "
            "(must reach 2.5, stretch 8)"
        )


def by_matrix(labs: FloatArray, cost: object, strip: int) -> FloatArray:
    """The least costs from the peer's full matrix, both orders of each pair and all."""
    least = np.empty(0)
    for start in range(0, len(labs), strip):
        rows = np.arange(start, min(start + strip, len(labs)))[:, None]
        columns = np.arange(len(labs))[None, :]
        matrix = deltaE_ciede2000(labs[rows], labs[columns])
        costs = cost(rows, columns, matrix)[columns > rows]  # type: ignore[operator]  # one of two functions
        least = np.sort(np.concatenate([least, np.partition(costs, min(KEPT, len(costs)) - 1)[:KEPT]]))[:KEPT]
    return least


if __name__ == "__main__":
    main()
