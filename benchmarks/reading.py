"""How fast and lean a photo is read, as ratios to one full OpenCV decode of the same file.

    python -m benchmarks.reading [PHOTO.jpg] [--pixels N]

Without a photo a 24 megapixel JPEG is drawn (smooth shapes with grain, quality 92, 4:2:0). Each
figure is the median of interleaved rounds, so that a busy machine weighs on both sides alike.
"""

from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

from analyser.photo.reading import read

PEAK = (
    "import sys; from analyser.photo.reading import read; "
    "read(sys.argv[1], about_pixels=int(sys.argv[2])); "
    "peak = next(line for line in open('/proc/self/status') if line.startswith('VmHWM')); "
    "print(int(peak.split()[1]) / 1024, 'PIL' in sys.modules)"
)


def drawn_photo(folder: Path) -> Path:
    """A 24 megapixel JPEG about as hard to decode as a camera's.

    No block of it is burnt out: photos with such (9 of 62) are decoded once more, small, to be told from
    damaged ones.
    """
    rng = np.random.default_rng(1)
    coarse = rng.uniform(60, 195, (50, 75, 3)).astype(np.float32)
    picture = cv2.resize(coarse, (6000, 4000), interpolation=cv2.INTER_CUBIC)
    grain = cv2.GaussianBlur(rng.normal(0, 12, (4000, 6000)).astype(np.float32), (0, 0), 0.8)
    picture = np.clip(picture + grain[..., np.newaxis], 0, 255).astype(np.uint8)
    path = folder / "drawn-24mp.jpg"
    cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return path


def seconds(call) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("photo", nargs="?", type=Path)
    parser.add_argument("--pixels", type=int, default=250_000)
    parser.add_argument("--rounds", type=int, default=15)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = given.photo or drawn_photo(Path(folder))
        data = np.frombuffer(path.read_bytes(), np.uint8)
        jobs = {
            "full OpenCV decode": lambda: cv2.imdecode(data, cv2.IMREAD_COLOR),
            "OpenCV decode at an eighth": lambda: cv2.imdecode(data, cv2.IMREAD_REDUCED_COLOR_8),
            f"read(about_pixels={given.pixels})": lambda: read(path, about_pixels=given.pixels),
            "read(full size)": lambda: read(path),
        }
        times: dict[str, list[float]] = {name: [] for name in jobs}
        for _ in range(given.rounds):
            for name, job in jobs.items():
                times[name].append(seconds(job))
        full = times["full OpenCV decode"]
        photo = read(path, about_pixels=given.pixels)
        print(f"{path.name}: {photo.width} x {photo.height}, {len(data) / 1e6:.1f} MB")
        for name, taken in times.items():
            ratio = statistics.median(a / b for a, b in zip(taken, full, strict=True))
            print(f"  {name:32} {ratio:6.2f} of a full decode ({1000 * statistics.median(taken):.0f} ms)")
        arguments = [sys.executable, "-c", PEAK, str(path), str(given.pixels)]
        out = subprocess.run(arguments, capture_output=True, text=True, check=True).stdout.split()
        print(f"  process that reads it: peak {float(out[0]):.0f} MiB, Pillow imported: {out[1]}")


if __name__ == "__main__":
    main()
