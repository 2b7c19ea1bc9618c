"""The nearest beads of a large stock, against scikit-image over all pairs; and what a list costs as it grows.

    python -m benchmarks.matching [--sizes 100 1000 10000 100000 500000]

Prints, for several kinds of colours, the time of finding the 3 nearest of 50,000 beads for each of 16
colours, that of the peer's whole table with its smallest three, and the ratio, which must reach 10 on the
first two: colours anywhere in sRGB, and the palette of a photo against a stock that has something near. The
third is hard on purpose: a stock of eighty clumps, most colours far from all of them. Rounds are
interleaved, the times their medians. The answers are compared: same beads, same differences within 1e-9.

Then a list grows: processor time and the most memory held beside the list, in MiB, of matching a palette of
8 colours (with chances), pairing, a collection of 4 and a mix. Matches and the beads tried for each colour
are compared with what every bead held against every colour gives; the mix's difference is worked out again.

Last a catalogue of a million palettes of five colours, as a batch writes them, is searched: the 20 nearest of
its colours to one; processor time of a query, wanted 50 ms, and of making it ready once.
"""

from __future__ import annotations

import argparse
import statistics
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from skimage.color import deltaE_ciede2000

from analyser.arrays import FloatArray
from analyser.colour.difference import delta_e_2000
from analyser.colour.nearest import Sorted, nearest_2000
from analyser.colour.spaces import lab_to_linear, linear_to_lab, srgb_to_lab
from analyser.colourway import collection, matching, mixing, pairing
from analyser.colourway.design import Wishes, seen_motif
from analyser.colourway.palette import PaletteColour
from analyser.motif import parsing
from analyser.stock.bead import Bead
from analyser.stock.quantity import Quantity
from analyser.stock.stock import Stock

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


def list_of(rng: np.random.Generator, beads: int) -> Stock:
    """An invented list; colours anywhere in sRGB."""
    labs = srgb_to_lab(rng.random((beads, 3))).tolist()
    held = Quantity(20.0, "grams")
    return Stock(
        Path("stock.csv"),
        tuple(
            Bead(f"b{k}", f"Bead {k}", "11/0", lab=(lab[0], lab[1], lab[2]), quantity=held, row=k + 2)
            for k, lab in enumerate(labs)
        ),
    )


def palette_of(rng: np.random.Generator) -> list[PaletteColour]:
    """Eight colours of a photo whose light is not well known."""
    labs = srgb_to_lab(rng.random((8, 3))).tolist()
    shares = np.linspace(0.3, 0.02, 8)
    return [
        PaletteColour((lab[0], lab[1], lab[2]), float(share / shares.sum()), 3.0, 7.0, f"colour {k}", (0, 0))
        for k, (lab, share) in enumerate(zip(labs, shares, strict=True))
    ]


def cost(job: Callable[[], Any]) -> tuple[Any, float, float]:
    """What a job gives, its processor time in seconds, and the most memory it held at once in MiB."""
    start = time.process_time()
    given = job()
    spent = time.process_time() - start
    tracemalloc.start()
    job()
    most = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    return given, spent, most


def grow(sizes: list[int]) -> None:
    """Print what each part costs as the list grows."""
    wishes = Wishes(parsing.load("chenille"))
    view = seen_motif(wishes)
    needs = {"accent": 260, "body": 800}
    print("\nbeads      match            pairs            collection       mix          seconds, MiB")
    for size in sizes:
        rng = np.random.default_rng(size)
        stock, colours = list_of(rng, size), palette_of(rng)
        labs = np.array([colour.lab for colour in colours])
        every = np.array([bead.lab for bead in stock.beads])
        table = np.array([delta_e_2000(lab, every) for lab in labs])
        found, *of_match = cost(
            lambda labs=labs, stock=stock: matching.nearest(
                labs, stock, uncertainty_de00=7.0, shared_de00=6.0
            )
        )
        for matches, row in zip(found.colours, table, strict=True):
            near = {f"b{k}" for k in np.argsort(row, kind="stable")[:64]}
            assert {match.bead.id for match in matches.beads} <= near
        ranking, *of_pairs = cost(
            lambda colours=colours, stock=stock: pairing.rank(colours, stock.beads, view, needs=needs)
        )
        tried = {
            (int(colour), int(bead)) for colour, bead in zip(ranking.body_for, ranking.body, strict=True)
        }
        nearest = np.argsort(table, axis=1, kind="stable")[:, : pairing.TRIED]
        assert tried == {(k, int(b)) for k, row in enumerate(nearest) for b in row if table[k, b] <= 15.0}
        _, *of_four = cost(lambda ranking=ranking: collection.choose(ranking, 4))
        mix, *of_mix = cost(
            lambda labs=labs, stock=stock: mixing.best_mix(labs[0], stock.beads, view.motif, view.bead_mm)
        )
        if mix is not None:
            light = lab_to_linear([mix.one.lab, mix.two.lab]).mean(axis=0)
            assert abs(float(delta_e_2000(linear_to_lab(light), labs[0])) - mix.de00) < 1e-9
        parts = (of_match, of_pairs, of_four, of_mix)
        print(f"{size:<9}", *(f"{spent:7.2f} {most:7.1f} " for spent, most in parts))


def catalogue(palettes: int) -> None:
    """Print what a search in the palettes of a catalogue takes."""
    rng = np.random.default_rng(7)
    # Photos' colours are dull more often than not.
    labs = srgb_to_lab(rng.random((5 * palettes, 3))) * [1.0, 0.5, 0.5]
    start = time.process_time()
    ready = Sorted(labs)
    took = time.process_time() - start
    spent = []
    for asked in srgb_to_lab(rng.random((24, 3))) * [1.0, 0.6, 0.6]:
        start = time.process_time()
        rows, de00 = nearest_2000(asked[None], ready, 20)
        spent.append(time.process_time() - start)
        if len(spent) <= 3:
            expected = np.sort(delta_e_2000(asked, labs), kind="stable")[:20]
            np.testing.assert_array_equal(de00[0], expected)
            assert len(set(rows[0] // 5)) > 1
    print(
        f"\n{palettes} palettes: made ready in {took:.1f} s, {48 * len(labs) / 2**20:.0f} MiB; a query "
        f"{1e3 * statistics.median(spent):.0f} ms, {1e3 * max(spent):.0f} at most; wanted 50"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--colours", type=int, default=16)
    parser.add_argument("--beads", type=int, default=50_000)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--palettes", type=int, default=1_000_000)
    parser.add_argument("--sizes", type=int, nargs="*", default=[100, 1000, 10_000, 100_000, 500_000])
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
    grow(given.sizes)
    catalogue(given.palettes)


if __name__ == "__main__":
    main()
