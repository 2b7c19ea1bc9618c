"""All goals of speed in one interleaved run beside their peers; by name any other benchmark.

    python -m benchmarks [--rounds 5] [--quick] [--out FOLDER] [NAME... | all]

Without names ``goals`` alone, minutes: the figures go to ``goals.json`` in a folder named by the day and, as
a table with the machine's size, to ``docs/benchmarks.md``. ``all`` is every benchmark one after the other,
which takes hours: a text of each goes to the folder. ``--quick`` looks at the light commands alone and leaves
with 1 where one has lost 30 %.
"""

from __future__ import annotations

import argparse
import datetime
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).parent


def main() -> int:
    names = sorted(path.stem for path in HERE.glob("*.py") if not path.stem.startswith("_"))
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "names", nargs="*", choices=[[], "all", *names], metavar="NAME", help=", ".join(["all", *names])
    )
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    if given.quick:
        return subprocess.run(
            [sys.executable, "-m", "benchmarks.commands", "--quick", "--rounds", "9"]
        ).returncode
    folder = given.out or Path(f"benchmarks-{datetime.datetime.now(datetime.UTC).date().isoformat()}")
    folder.mkdir(parents=True, exist_ok=True)
    wanted = names if "all" in given.names else given.names or ["goals"]
    failed = 0
    for name in wanted:
        more: list[str] = []
        if name in ("goals", "commands"):
            more = ["--rounds", str(given.rounds), "--json", str(folder.resolve() / f"{name}.json")]
        if name == "goals":
            more += ["--table", str(HERE.parent / "docs" / "benchmarks.md")]
        start = time.perf_counter()
        print(f"== {name}", flush=True)
        with (folder / f"{name}.txt").open("w", encoding="utf-8") as told:
            ended = subprocess.run(
                [sys.executable, "-m", f"benchmarks.{name}", *more], stdout=told, stderr=subprocess.STDOUT
            )
        failed += ended.returncode != 0
        if name == "goals":
            print(Path(told.name).read_text(encoding="utf-8"))
        print(
            f"   {time.perf_counter() - start:.0f} s, ended with {ended.returncode}: {told.name}", flush=True
        )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
