"""How well the audit judges drawn ropes as makers photograph them: any finish, cloth, lamp, exposure.

    python -m benchmarks.hard_ropes [--ropes 150] [--first 0] [--processes 2] [--results FILE] [--show-misses]

Every other rope is even. No limit of the audit was chosen on the ropes from 0 on; those from 10000 on are
for choosing. The figures are counted as on photos of known truth: a lot change within 0.05 of its place and
in its role, a stray bead within 1.2 beads, a plain round within 0.03.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from functools import partial
from multiprocessing import Pool
from pathlib import Path
from typing import Any

import numpy as np

from analyser.audit.running import audit_ropes
from analyser.errors import AnalyserError
from benchmarks.audit import along, wilson
from synthetic.hard_ropes import Scene, photograph, scene
from synthetic.rope_beads import Fault, Rope

CLEAR_DE00 = 2.5
"""Size from which a lot change is one that a maker sees."""


def met(fault: Fault, finding: Any, rope: Rope) -> bool:
    """Whether a finding tells this fault."""
    if finding.kind != fault.kind or finding.role != fault.role:
        return False
    if fault.kind == "stray-bead":
        return bool(np.hypot(*np.subtract(finding.pixel, fault.pixel)) <= 1.2 * rope.bead_px)
    limit = 0.05 if fault.kind == "lot-change" else 0.03
    return abs(along(rope.centreline, finding.pixel) - fault.at) <= limit


def judged(seen: Scene) -> dict[str, Any]:
    """Draw one scene, audit it, and count."""
    rope = photograph(seen)
    recipe = seen.recipe
    row: dict[str, Any] = {
        "seed": recipe.seed // 2,
        "faulty": recipe.fault != "none",
        "what": f"{recipe.kind} {recipe.finish_body}/{recipe.finish_accent} on {recipe.table}, "
        f"{recipe.light}, {rope.bead_px:.0f} px" + ", phone" * seen.phone + ", three" * bool(recipe.third),
    }
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "rope.jpg"
        path.write_bytes(rope.jpeg())
        start = time.perf_counter()
        try:
            pieces = audit_ropes(path)
        except AnalyserError as error:
            pieces = []
            row["error"] = str(error)[str(error).find(": ") + 2 :][:60]
        row["seconds"] = round(time.perf_counter() - start, 1)
    findings = [f for f in pieces[0].findings if f.kind != "slack"] if pieces else []
    row["verdict"] = pieces[0].verdict if pieces else "refused"
    row["roles"] = len(pieces[0].roles) if pieces else 0
    used: list[int] = []
    row["faults"] = []
    for fault in rope.faults:
        hit = next((i for i, f in enumerate(findings) if i not in used and met(fault, f, rope)), None)
        used += [] if hit is None else [hit]
        row["faults"].append(
            (fault.kind, fault.role, round(fault.at, 2), round(fault.de00, 1), hit is not None)
        )
    row["false"] = [
        f"{f.kind} {f.role} at {f.at:.2f}, {f.de00 or 0:.1f}" for i, f in enumerate(findings) if i not in used
    ]
    return row


def one(number: int, first: int) -> dict[str, Any]:
    """The rope of that number: even ones have even numbers."""
    return judged(scene(first + number // 2, faulty=bool(number % 2)))


def summary(rows: list[dict[str, Any]]) -> None:
    """Print what the results say, with 95 % Wilson intervals."""
    faults = [fault for row in rows for fault in row["faults"]]
    lots = [fault for fault in faults if fault[0] == "lot-change"]
    for title, group in (
        (f"lot changes that look {CLEAR_DE00} or more", [f for f in lots if f[3] >= CLEAR_DE00]),
        ("smaller lot changes", [f for f in lots if f[3] < CLEAR_DE00]),
        ("stray beads", [f for f in faults if f[0] == "stray-bead"]),
        ("plain rounds", [f for f in faults if f[0] == "plain-round"]),
    ):
        print(f"{title} found: {wilson(sum(fault[-1] for fault in group), len(group))}")
    even = [row for row in rows if not row["faulty"]]
    uneven = [row for row in rows if row["faulty"]]
    called = sum(row["verdict"] == "even" and not row["false"] for row in even)
    print(f"even ropes called even: {wilson(called, len(even))}")
    called = sum(row["verdict"] in ("check", "uneven") for row in uneven)
    print(f"uneven ropes called so: {wilson(called, len(uneven))}")
    print(f"false findings: {sum(len(row['false']) for row in rows)} on {len(rows)} photos")
    print(f"refused: {sum(row['verdict'] == 'refused' for row in rows)}")
    seconds = [row["seconds"] for row in rows]
    print(f"seconds a rope: median {np.median(seconds):.1f}, most {max(seconds):.1f}")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--ropes", type=int, default=150)
    parser.add_argument("--first", type=int, default=0, help="seed of the first pair, even and faulty")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--results", type=Path, help="where each rope's result is kept, a line of JSON")
    parser.add_argument("--show-misses", action="store_true")
    options = parser.parse_args()
    with Pool(options.processes) as pool:
        work = partial(one, first=options.first)
        rows = list(pool.imap(work, range(options.ropes), chunksize=1))
    if options.results:
        options.results.write_text("".join(json.dumps(row) + "\n" for row in rows))
    if options.show_misses:
        for row in rows:
            wrong = row["false"] or (row["verdict"] != "even" and not row["faulty"])
            if wrong or not all(fault[-1] for fault in row["faults"]):
                print({key: value for key, value in row.items() if key != "seconds"})
    summary(rows)


if __name__ == "__main__":
    main()
