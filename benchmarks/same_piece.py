"""What a second photo, turned by 90 degrees, tells of drawn ropes in metal and film.

    python -m benchmarks.same_piece [--ropes 48] [--first 40000]

Each rope is drawn twice, the second time with its lamps a quarter turn round it, and judged by the first
photo alone and by both (``audit A B --same-piece``). Every other rope is even. Counted as in ``hard_ropes``.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from itertools import count
from pathlib import Path
from unittest.mock import patch

from analyser.audit.running import audit_ropes
from analyser.audit.same_piece import same_piece
from analyser.audit.verdict import Piece
from analyser.errors import AnalyserError
from benchmarks.hard_ropes import met
from synthetic import rope_scene
from synthetic.hard_ropes import Scene, photograph, scene
from synthetic.rope_beads import Rope

ANGLED = {"metallic", "iridescent"}


def judged(seen: Scene, *, turned: bool) -> tuple[Rope, Piece]:
    """The rope of a scene, drawn and audited; ``turned`` by 90 degrees to its lamps."""
    quarter = {
        light: [((-y, x, z), strength) for (x, y, z), strength in lamps]
        for light, lamps in rope_scene.LAMPS.items()
    }
    with patch.dict(rope_scene.LAMPS, quarter if turned else {}), tempfile.TemporaryDirectory() as folder:
        rope = photograph(seen)
        path = Path(folder) / "rope.jpg"
        path.write_bytes(rope.jpeg())
        return rope, audit_ropes(path)[0]


def tally(rope: Rope, piece: Piece) -> Counter[str]:
    """Of one judgement: whether it is right or unsure, faults found and missed, false findings."""
    findings = [finding for finding in piece.findings if finding.kind != "slack"]
    met_by = [next((f for f in findings if met(fault, f, rope)), None) for fault in rope.faults]
    found = sum(finding is not None for finding in met_by)
    right = piece.verdict == ("uneven" if rope.faults else "even")
    return Counter(
        right=int(right),
        unsure=int(piece.verdict == "check"),
        found=found,
        missed=len(rope.faults) - found,
        false=len(findings) - len({id(f) for f in met_by if f is not None}),
    )


def main() -> None:
    """Print the tallies of one photo and of two."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ropes", type=int, default=48)
    parser.add_argument("--first", type=int, default=40_000)
    options = parser.parse_args()
    one, both, done = Counter[str](), Counter[str](), 0
    for seed in count(options.first):
        if done == options.ropes:
            break
        seen = scene(seed, faulty=seed % 2 == 1)
        if not ANGLED & {seen.recipe.finish_body, seen.recipe.finish_accent}:
            continue
        try:
            (rope, first), (_, second) = judged(seen, turned=False), judged(seen, turned=True)
            together = same_piece([first, second])[0]
        except AnalyserError as error:
            print(f"  rope {seed}: {error}", flush=True)
            continue
        done += 1
        one += tally(rope, first)
        both += tally(rope, together)
    for title, told in (("one photo", one), ("two photos", both)):
        print(f"{title:12} of {done} ropes: " + ", ".join(f"{told[what]} {what}" for what in WHAT))


WHAT = ("right", "unsure", "found", "missed", "false")

if __name__ == "__main__":
    main()
