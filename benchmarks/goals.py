"""Every goal of speed beside a general-purpose peer, in one interleaved run.

    python -m benchmarks.goals [--rounds 5] [--json FILE] [--table FILE]

Whole commands as a maker types them stand beside a bare ``python -c pass`` and a full OpenCV decode of the
same 24 megapixel JPEG (see ``benchmarks.commands``); parts of them, in this process, beside what other
libraries take for the like: OpenCV, Pillow, scikit-learn, scikit-image. Every round runs each job once, in
turn, so that a busy machine weighs on all alike. Seconds are those of the processor; a figure is the median
of the rounds' ratios, with the least and the largest.

What has no peer, or needs a browser or hours, is measured by the other benchmarks: ``web`` (the page),
``matching`` (a list as it grows, a million palettes), ``palette`` (how faithful), a batch by hand.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from PIL import Image, features
from skimage.color import deltaE_ciede2000

from analyser.colour.difference import delta_e_2000
from analyser.colour.nearest import nearest_2000
from analyser.colour.spaces import srgb_to_lab
from analyser.colourway import palette, photo_palette
from benchmarks import commands
from benchmarks import palette as palettes
from benchmarks.matching import NEAREST, by_table, cases

Cost = tuple[float, float | None]


@dataclass(frozen=True)
class Goal:
    """A job, the peer it is measured by, the most it may take of it, and MiB."""

    name: str
    job: Callable[[], Cost]
    peer: str
    most: float | None
    most_mib: float | None = None


def here(call: Callable[[], object]) -> Callable[[], Cost]:
    """A job of this process: processor time alone."""

    def job() -> Cost:
        start = time.process_time()
        call()
        return time.process_time() - start, None

    return job


#: Starts a command: what this process holds would count as the peak of one that it starts itself.
LIGHT = """
import os, sys
from benchmarks.commands import run
del os.environ["PYTHONPATH"]
print(*run(sys.argv[2:], sys.argv[1])[1:])
"""


def process(words: list[str], folder: str) -> Callable[[], Cost]:
    """A job of its own process: processor time and peak MiB."""
    starts = [sys.executable, "-c", LIGHT, folder, *words]
    knows_us = {**os.environ, "PYTHONPATH": str(commands.ROOT)}

    def job() -> Cost:
        told = subprocess.run(starts, capture_output=True, text=True, check=True, env=knows_us, cwd=folder)
        processor, peak = told.stdout.split()
        return float(processor), float(peak)

    return job


def jobs(folder: str) -> tuple[dict[str, Callable[[], Cost]], list[Goal]]:
    """The peers by name, and the goals."""
    large = commands.drawn(folder)
    picture = palettes.photos(Path(commands.SMALL).parent)["outfit-scarf"]
    busy = palettes.large_jpeg(picture, Path(folder))
    data = np.frombuffer(busy.read_bytes(), np.uint8)
    colours, beads = cases(np.random.default_rng(1), 16, 50_000)["anywhere in sRGB"]
    near = cases(np.random.default_rng(1), 16, 50_000)["something near"]
    one, two = srgb_to_lab(np.random.default_rng(2).random((2, 500_000, 3)))
    to_python = process([sys.executable, "-c", "pass"], folder)
    to_decode = process([sys.executable, "-c", commands.DECODE, large], folder)

    def read_to_palette(method: str) -> Callable[[], Cost]:
        return here(lambda: photo_palette.palette_of(*photo_palette.calibrated(busy, method=method)))

    def median_cut() -> None:
        small = cv2.imdecode(data, cv2.IMREAD_REDUCED_COLOR_8)
        Image.fromarray(small).quantize(8, method=Image.Quantize.MEDIANCUT)

    peers = {
        "Python": to_python,
        "decode": to_decode,
        "OpenCV's decode": here(lambda: cv2.imdecode(data, cv2.IMREAD_COLOR)),
        "scikit-learn's k-means": here(lambda: palettes.k_means(1)(picture, 8)),
        "scikit-image's table": here(lambda: by_table(colours, beads)),
        "scikit-image's table, near": here(lambda: by_table(*near)),
        "scikit-image's CIEDE2000": here(lambda: deltaE_ciede2000(one, two)),
    }
    script = str(Path(sys.executable).parent / "analyser")
    names = {"python": "Python", "decode": "decode"}
    goals = [
        Goal(c.name, process([script, *c.words], folder), names[c.peer], c.most, c.most_mib)
        for c in commands.commands(large)
    ]
    goals += [
        Goal("read to palette, none, in process", read_to_palette("none"), "OpenCV's decode", 0.8),
        Goal("read to palette, auto, in process", read_to_palette("auto"), "OpenCV's decode", 1.3),
        Goal("OpenCV's eighth, Pillow's median cut", here(median_cut), "OpenCV's decode", None),
        Goal(
            "8 colours of 0.6 MP",
            here(lambda: palette.reduce_colours(palettes.LIGHT[picture], 8)),
            "scikit-learn's k-means",
            1,
        ),
        Goal(
            "OpenCV's k-means, a quarter of them",
            here(lambda: palettes.opencv(picture, 8)),
            "scikit-learn's k-means",
            None,
        ),
        Goal(
            "3 nearest of 50,000 beads, 16 colours",
            here(lambda: nearest_2000(colours, beads, NEAREST)),
            "scikit-image's table",
            0.1,
        ),
        Goal(
            "the same, a photo's colours",
            here(lambda: nearest_2000(*near, NEAREST)),
            "scikit-image's table, near",
            0.1,
        ),
        Goal(
            "CIEDE2000 of 500,000 pairs", here(lambda: delta_e_2000(one, two)), "scikit-image's CIEDE2000", 1
        ),
    ]
    quantizers = {"median cut": Image.Quantize.MEDIANCUT, "octree": Image.Quantize.FASTOCTREE}
    if features.check("libimagequant"):  # Pillow's own wheels come without it
        quantizers["libimagequant"] = Image.Quantize.LIBIMAGEQUANT
    for name, method in quantizers.items():
        fit = palettes.pillow(method)
        goals.append(
            Goal(f"Pillow's {name}", here(lambda fit=fit: fit(picture, 8)), "scikit-learn's k-means", None)
        )
    return peers, goals


def machine() -> str:
    """Its processor, cores and memory."""
    about = Path("/proc/cpuinfo")
    models = (
        [line for line in about.read_text().splitlines() if "model name" in line] if about.exists() else []
    )
    model = models[0].partition(":")[2].strip() if models else platform.machine()
    pages = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") / 2**30
    return f"{model}, {os.cpu_count()} cores, {pages:.0f} GiB"


def measured(rounds: int) -> dict:
    """All figures of so many rounds."""
    with tempfile.TemporaryDirectory() as folder:
        peers, goals = jobs(folder)
        every = {**peers, **{goal.name: goal.job for goal in goals}}
        for job in every.values():  # once unmeasured: caches of files and of compiled modules
            job()
        load = os.getloadavg()[0]
        costs = {name: [] for name in every}
        for _ in range(rounds):
            for name, job in every.items():
                costs[name].append(job())
    rows = []
    for goal in goals:
        ratios = [own[0] / its[0] for own, its in zip(costs[goal.name], costs[goal.peer], strict=True)]
        peaks = [mib for _, mib in costs[goal.name] if mib is not None]
        rows.append(
            {
                "goal": goal.name, "peer": goal.peer, "wanted": goal.most, "ratio": statistics.median(ratios),
                "least": min(ratios), "largest": max(ratios), "wanted_mib": goal.most_mib,
                "seconds": statistics.median(seconds for seconds, _ in costs[goal.name]),
                "mib": statistics.median(peaks) if peaks else None,
            }
        )  # fmt: skip
    return {
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(), "machine": machine(),
        "rounds": rounds, "python": platform.python_version(),
        "load": [round(load, 1), round(os.getloadavg()[0], 1)],
        "peers_seconds": {name: statistics.median(cost[0] for cost in costs[name]) for name in peers},
        "rows": rows,
    }  # fmt: skip


def table(told: dict) -> list[str]:
    """The figures as lines of Markdown; what falls short of its goal is bold."""
    peers = ", ".join(f"{name} {1000 * seconds:.0f} ms" for name, seconds in told["peers_seconds"].items())
    lines = [
        "# Speed beside general-purpose peers",
        "",
        f"By `python -m benchmarks`, {told['date']}: {told['machine']}, Python {told['python']}, "
        f"load {told['load'][0]:g} to {told['load'][1]:g}, {told['rounds']} interleaved rounds; "
        "seconds of processor time.",
        f"Peers: {peers}.",
        "",
        "| what | times its peer (least, largest) | wanted | seconds | peak MiB | wanted |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for row in told["rows"]:
        short = row["wanted"] is not None and row["ratio"] > row["wanted"]
        heavy = row["wanted_mib"] is not None and row["mib"] > row["wanted_mib"]
        ratio = f"{row['ratio']:.3g} {row['peer']} ({row['least']:.3g}, {row['largest']:.3g})"
        mib = "" if row["mib"] is None else f"{row['mib']:.0f}"
        lines.append(
            f"| {row['goal']} | {f'**{ratio}**' if short else ratio} "
            f"| {told_goal(row['wanted'])} | {row['seconds']:.3f} "
            f"| {f'**{mib}**' if heavy else mib} | {told_goal(row['wanted_mib'])} |"
        )
    return lines


def told_goal(wanted: float | None) -> str:
    return "" if wanted is None else f"{wanted:g}"


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--table", type=Path)
    given = parser.parse_args()
    at = {
        name: None if path is None else path.resolve()
        for name, path in vars(given).items()
        if name != "rounds"
    }
    told = measured(given.rounds)
    lines = "\n".join([*table(told), ""])
    print(lines)
    if at["json"]:
        at["json"].write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    if at["table"]:
        at["table"].write_text(lines, encoding="utf-8")


if __name__ == "__main__":
    main()
