"""How long whole commands take and how much memory, as a maker types them, beside two peers in the same run.

    python -m benchmarks.commands [--rounds 5] [--quick] [--json FILE] [--table FILE]

The peers are a bare ``python -c pass`` and one full OpenCV decode of the 24 megapixel JPEG that is drawn for
this. Every round runs each command once, in turn, so that a busy machine weighs on all alike; a figure is
the median of the rounds' ratios, with the least and the largest. Seconds are the clock's, memory is the
process's peak.

``--quick`` runs the light commands alone and leaves with 1 where one has lost 30 % on ``RATIOS``. Its seconds
are those of the processor: on a machine that was busy sixteen times over the medians of the clock's ratios
were up to a half above ``RATIOS``, those of the processor's within a twentieth.
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
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
STOCK = str(ROOT / "palettes" / "demo-stock.csv")
SMALL = str(ROOT / "samples" / "outfit-scarf.jpg")
ROPE = str(ROOT / "samples" / "rope-rose-white-even.jpg")
COLOURWAY = ("colourway", SMALL, "--stock", STOCK, "--length", "18cm")
LOST = 1.3


@dataclass(frozen=True)
class Command:
    """A command, the peer it is measured by, and what is wanted of it."""

    name: str
    words: tuple[str, ...]
    peer: str
    most: float
    most_mib: float | None = None


def commands(large: str) -> list[Command]:
    return [
        Command("--help", ("--help",), "python", 5),
        Command("match", ("match", "#cb6959", "--stock", STOCK), "python", 13),
        Command("count", ("count", "--length", "18cm"), "python", 13),
        Command("stock check", ("stock", "check", STOCK), "python", 13),
        Command("palette, small photo", ("palette", SMALL), "python", 25, 100),
        Command("colourway with page", (*COLOURWAY, "--out", "."), "python", 80),
        Command("palette, 24 MP", ("palette", large), "decode", 2.5, 120),
        Command("palette, 24 MP, none", ("palette", large, "--calibration", "none"), "decode", 2.5, 120),
        Command("audit", ("audit", ROPE), "decode", 13),
    ]  # fmt: skip


#: Processor time of the light commands over that of a bare Python, as last measured on two cores.
RATIOS = {"--help": 5.4, "match": 20.0, "count": 13.2, "stock check": 11.9}

DECODE = "import cv2, sys; cv2.imread(sys.argv[1])"


def drawn(folder: str) -> str:
    """The large photo, drawn by another process: what this one holds would count as its children's peak."""
    code = "from benchmarks.reading import drawn_photo; from pathlib import Path; import sys; "
    words = [sys.executable, "-c", f"{code}print(drawn_photo(Path(sys.argv[1])))", folder]
    return subprocess.run(words, capture_output=True, text=True, check=True, cwd=ROOT).stdout.strip()


def run(words: list[str], folder: str) -> tuple[float, float, float]:
    """Seconds of the clock, seconds of processor time and peak MiB of a process."""
    start = time.perf_counter()
    silent = os.open(os.devnull, os.O_WRONLY)
    # An installed package is compiled, so compiled files may be written by the unmeasured round.
    told = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    child = os.posix_spawn(
        words[0], words, {**told, "PWD": folder},
        file_actions=[(os.POSIX_SPAWN_DUP2, silent, 1), (os.POSIX_SPAWN_DUP2, silent, 2)],
    )  # fmt: skip
    _, status, used = os.wait4(child, 0)
    os.close(silent)
    if status:
        raise SystemExit(f"{' '.join(words)} ended with {os.waitstatus_to_exitcode(status)}")
    return time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--table", type=Path)
    given = parser.parse_args()
    script = Path(sys.executable).parent / "analyser"
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        large = "" if given.quick else drawn(folder)
        wanted = [one for one in commands(large) if not given.quick or one.name in RATIOS]
        peers = {"python": [sys.executable, "-c", "pass"]}
        if not given.quick:
            peers["decode"] = [sys.executable, "-c", DECODE, large]
        every = {**peers, **{one.name: [str(script), *one.words] for one in wanted}}
        seconds: dict[str, list[float]] = {name: [] for name in every}
        memory: dict[str, list[float]] = {name: [] for name in every}
        for words in every.values():  # once unmeasured: caches of files and of compiled modules
            run(words, folder)
        for _ in range(given.rounds):
            for name, words in every.items():
                clock, processor, peak = run(words, folder)
                seconds[name].append(processor if given.quick else clock)
                memory[name].append(peak)
    rows = []
    for one in wanted:
        ratios = [a / b for a, b in zip(seconds[one.name], seconds[one.peer], strict=True)]
        rows.append(
            {
                "command": one.name, "peer": one.peer, "wanted": one.most, "wanted_mib": one.most_mib,
                "ratio": statistics.median(ratios), "least": min(ratios), "largest": max(ratios),
                "seconds": statistics.median(seconds[one.name]), "mib": statistics.median(memory[one.name]),
            }
        )  # fmt: skip
    told = {
        "date": datetime.datetime.now(datetime.UTC).date().isoformat(), "python": platform.python_version(),
        "cores": os.cpu_count(), "peers_seconds": {name: statistics.median(seconds[name]) for name in peers},
        "rows": rows,
    }  # fmt: skip
    lines = table(told)
    print("\n".join(lines))
    if given.json:
        given.json.write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    if given.table:
        given.table.write_text("\n".join(["# How long the commands take", "", *lines, ""]), encoding="utf-8")
    if given.quick:
        lost = [row["command"] for row in rows if row["ratio"] > LOST * RATIOS[row["command"]]]
        if lost:
            raise SystemExit(f"slower by 30 % than before: {', '.join(lost)}")


def table(told: dict) -> list[str]:
    """The figures as lines of Markdown."""
    peers = ", ".join(f"{name} {1000 * value:.0f} ms" for name, value in told["peers_seconds"].items())
    lines = [
        f"{told['date']}, Python {told['python']}, {told['cores']} cores; peers: {peers}.",
        "",
        "| command | times the peer (least, largest) | wanted | seconds | peak MiB | wanted |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for row in told["rows"]:
        figures = f"{row['ratio']:.1f} {row['peer']} ({row['least']:.1f}, {row['largest']:.1f})"
        most = "" if row["wanted_mib"] is None else f"{row['wanted_mib']:.0f}"
        lines.append(
            f"| {row['command']} | {figures} | {row['wanted']:g} | {row['seconds']:.2f} | {row['mib']:.0f} "
            f"| {most} |"
        )
    return lines


if __name__ == "__main__":
    main()
