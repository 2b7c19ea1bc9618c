"""Time and memory of the audit over the photo's size, as ratios to reading the same file in full.

    python -m benchmarks.audit_speed [PHOTO] [--sizes 6 12 24 48]

Without a photo a rope is drawn. The photo is enlarged to each size in megapixels; time and peak memory are
those of a process of its own, imports included.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2

from synthetic.ropes import Recipe, draw

PEAK = (
    "line = next(line for line in open('/proc/self/status') if line.startswith('VmHWM')); "
    "print(int(line.split()[1]) / 1024)"
)
AUDIT = f"import sys; from analyser.audit.running import audit_ropes; audit_ropes(sys.argv[1]); {PEAK}"
READ = f"import sys; from analyser.photo.reading import read; read(sys.argv[1]); {PEAK}"


def run(code: str, path: Path) -> tuple[float, float]:
    """Seconds and peak MiB of a process running that code on the file."""
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
    return time.perf_counter() - start, float(done.stdout)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photo", nargs="?", type=Path)
    parser.add_argument("--sizes", nargs="+", type=float, default=[6, 12, 24, 48])
    options = parser.parse_args()
    if options.photo:
        picture = cv2.imread(str(options.photo))
    else:
        plan = Recipe(
            "chenille", "ring", "window", "paper", (32, 25, -8), (76, -20, 8), 70, 14, 0.6, 70, 1, gloss=0.05
        )
        picture = draw(plan).srgb_u8()[..., ::-1]
    with tempfile.TemporaryDirectory() as folder:
        for size in options.sizes:
            scale = (size * 1e6 / (picture.shape[0] * picture.shape[1])) ** 0.5
            path = Path(folder) / f"{size:g}.jpg"
            cv2.imwrite(
                str(path), cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
            )
            seconds, peak = run(AUDIT, path)
            reading, _ = run(READ, path)
            ratio = seconds / reading
            print(f"{size:5g} MP: {seconds:.1f} s ({ratio:.1f} readings in full), peak {peak:.0f} MiB")


if __name__ == "__main__":
    main()
