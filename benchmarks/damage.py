"""Truth under damage: files cut, zeroed, holed and short of a piece, in every format, at many places.

Each damaged file must be refused, or what is still shown must be right: of the pixels shown fewer than 1.5
% off by more than 5 in Lab, and six palette colours within 3 CIEDE2000 of those of the same part of the
whole file. Prints, for each format and harm, how many were refused, told of, harmless in silence, and
silently wrong.

    python -m benchmarks.damage [PLACES [WORKERS]]
"""

from __future__ import annotations

import functools
import io
import os
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from analyser.colour.difference import delta_e_2000
from analyser.colour.spaces import linear_to_lab
from analyser.colourway.palette import reduce_colours
from analyser.errors import PhotoError
from analyser.photo.reading import Photo, read

SAMPLES = Path(__file__).resolve().parents[1] / "samples"
PICTURES = ("outfit-scarf.jpg", "outfit-dark-with-card.jpg", "tray-of-beads.jpg")
SIZE = (640, 480)
ABOUT = 60_000
SMALLEST = 0.001  # of the pixels: smaller things are no colours of a palette
FORMATS: dict[str, tuple[str, dict[str, object]]] = {
    "jpeg": ("JPEG", {"quality": 90}),
    "jpeg 4:4:4": ("JPEG", {"quality": 90, "subsampling": 0}),
    "jpeg optimised": ("JPEG", {"quality": 80, "optimize": True}),
    "jpeg restarts": ("JPEG", {"quality": 90, "restart_marker_rows": 1}),
    "jpeg progressive": ("JPEG", {"quality": 90, "progressive": True}),
    "png": ("PNG", {}),
    "tiff": ("TIFF", {}),
    "tiff lzw": ("TIFF", {"compression": "tiff_lzw"}),
    "tiff deflate": ("TIFF", {"compression": "tiff_adobe_deflate"}),
    "webp": ("WEBP", {"quality": 85}),
    "webp lossless": ("WEBP", {"lossless": True}),
}
HARMS: dict[str, Callable[[bytes, int], bytes]] = {
    "cut": lambda data, at: data[:at],
    "zeroed": lambda data, at: data[:at] + bytes(len(data) - at),
    "512 zeroed": lambda data, at: data[:at] + bytes(min(512, len(data) - at)) + data[at + 512 :],
    "512 gone": lambda data, at: data[:at] + data[at + 512 :],
    "64 gone": lambda data, at: data[:at] + data[at + 64 :],
}
Outcome = tuple[str, str, str]


@functools.cache
def whole_files() -> dict[tuple[str, str], bytes]:
    """Each picture in each format, by both names."""
    files = {}
    for name in PICTURES:
        with Image.open(SAMPLES / name) as picture:
            small = picture.convert("RGB").resize(SIZE, Image.Resampling.LANCZOS)
        for kind, (writer, options) in FORMATS.items():
            stream = io.BytesIO()
            small.save(stream, writer, **options)
            files[kind, name] = stream.getvalue()
        sixteen = np.asarray(small)[..., ::-1].astype(np.uint16) * 257
        files["tiff 16", name] = cv2.imencode(".tiff", sixteen)[1].tobytes()
    files["heic", "harbour-tiles"] = (SAMPLES / "harbour-tiles.heic").read_bytes()
    return files


def wrong(intact: Photo, damaged: Photo) -> bool:
    """Whether what a damaged file shows is not what the whole one does."""
    shown = np.ones(damaged.linear.shape[:2], bool) if damaged.opaque is None else damaged.opaque
    if intact.linear.shape != damaged.linear.shape or not shown.any():
        return True
    one, two = (linear_to_lab(np.clip(photo.linear, 0, 1)) for photo in (intact, damaged))
    off = (np.linalg.norm(one - two, axis=-1) > 5) & shown
    if off.sum() >= 0.015 * shown.sum():
        return True
    if off.sum() < SMALLEST * shown.sum():
        return False
    was, now = (reduce_colours(photo.linear, 6, mask=shown).lab for photo in (intact, damaged))
    apart = delta_e_2000(was[:, np.newaxis], now[np.newaxis])
    return bool(max(apart.min(axis=0).max(), apart.min(axis=1).max()) > 3)


def tried(kind: str, picture: str, places: int) -> list[Outcome]:
    """What became of a file harmed in every way at so many places."""
    cv2.setNumThreads(1)
    data = whole_files()[kind, picture]
    at_shares = np.random.default_rng(len(kind)).uniform(0.02, 0.99, places)
    found = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "photo")
        path.write_bytes(data)
        intact = read(path, about_pixels=ABOUT)
        for harm, harmed in HARMS.items():
            for share in at_shares:
                path.write_bytes(harmed(data, int(share * len(data))))
                try:
                    shown = read(path, about_pixels=ABOUT)
                except PhotoError:
                    found.append((kind, harm, "refused"))
                    continue
                told = "told" if len(shown.notes) > len(intact.notes) else "silent"
                found.append((kind, harm, f"{told}, {'WRONG' if wrong(intact, shown) else 'right'}"))
    return found


def main(places: int, workers: int) -> None:
    """Harm them all, and print a line for each format and harm."""
    jobs = list(whole_files())
    counts: dict[tuple[str, str], Counter[str]] = {}
    with ProcessPoolExecutor(workers) as pool:
        for outcomes in pool.map(tried, *zip(*jobs, strict=True), [places] * len(jobs)):
            for kind, harm, outcome in outcomes:
                counts.setdefault((kind, harm), Counter())[outcome] += 1
    words = ["refused", "told, right", "silent, right", "told, WRONG", "silent, WRONG"]
    print(f"{'format':17} {'harm':11}" + "".join(f"{word:>15}" for word in words))
    for (kind, harm), outcomes in sorted(counts.items()):
        print(f"{kind:17} {harm:11}" + "".join(f"{outcomes[word]:15}" for word in words))
    total = sum(counts.values(), Counter())
    print(f"{'all':29}" + "".join(f"{total[word]:15}" for word in words))


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 200,
        int(sys.argv[2]) if len(sys.argv) > 2 else (os.cpu_count() or 1),
    )
