"""All benchmarks, one after the other, each with its peers in its own run; what they print goes to a folder.

    python -m benchmarks [--quick] [--out FOLDER] [NAME...]

Without names all of them, which takes hours. ``--quick`` looks at the light commands alone and leaves with 1
where one has lost 30 %. The folder, named by the day, gets a text of each and ``commands.json``.
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
    parser.add_argument("names", nargs="*", choices=[[], *names], metavar="NAME", help=", ".join(names))
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    if given.quick:
        return subprocess.run(
            [sys.executable, "-m", "benchmarks.commands", "--quick", "--rounds", "9"]
        ).returncode
    folder = given.out or Path(f"benchmarks-{datetime.datetime.now(datetime.UTC).date().isoformat()}")
    folder.mkdir(parents=True, exist_ok=True)
    failed = 0
    for name in given.names or names:
        more = ["--json", str(folder.resolve() / "commands.json")] if name == "commands" else []
        start = time.perf_counter()
        print(f"== {name}", flush=True)
        with (folder / f"{name}.txt").open("w", encoding="utf-8") as told:
            ended = subprocess.run(
                [sys.executable, "-m", f"benchmarks.{name}", *more], stdout=told, stderr=subprocess.STDOUT
            )
        failed += ended.returncode != 0
        print(
            f"   {time.perf_counter() - start:.0f} s, ended with {ended.returncode}: {told.name}", flush=True
        )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
