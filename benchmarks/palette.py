"""How faithful, vivid, stable and fast the palette is, beside general-purpose peers in the same run.

    python -m benchmarks.palette [FOLDER] [--only faithful,vivid,accents,stable,fast]

FOLDER holds photos; without it the sample photos and the colour photos that scikit-image and scikit-learn
ship. Every photo is brought to at most 0.6 megapixels, averaged in linear light.

- faithful: sum of squared Lab distances over all pixels, as a ratio to the best of 20 restarts of k-means.
- vivid: a flat square of a colour more than 25 CIEDE2000 from every pixel must be in the palette within 3.
  Photos that leave no such colour in sRGB are left out, and a second colour and place is tried on the
  others until there are 20 pictures.
- accents: a ball, lit from one side, with gloss, drawn into photos at 0.06 to 0.15 % of their area. It is
  drawn with its own light, so its true colour is the mean of the light of its pixels.
- stable: half and quarter of the sides, JPEG quality 60, and 3 % cut from each side; colours matched one to
  one for the least sum, mean CIEDE2000.
- fast: a JPEG of 24 megapixels to its palette, and the whole command, as ratios to a full decode by OpenCV.

Needs scikit-learn besides the test requirements.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import cv2
import numpy as np
import skimage
import sklearn
from PIL import Image
from scipy.optimize import linear_sum_assignment
from sklearn.cluster import BisectingKMeans, KMeans, MiniBatchKMeans

from analyser.colour import spaces
from analyser.colour.difference import delta_e_2000
from analyser.colourway import palette
from analyser.photo import calibration, reading
from analyser.photo.subject import find_subject

SKIMAGE = ("astronaut.png", "chelsea.png", "coffee.png", "hubble_deep_field.jpg", "ihc.png",
           "motorcycle_left.png", "retina.jpg", "rocket.jpg")  # fmt: skip
SKLEARN = ("china.jpg", "flower.jpg")
PIXELS = 600_000
AREAS = (0.001, 0.003, 0.01, 0.03)
Picture = np.ndarray
Fit = Callable[[Picture, int], np.ndarray]
LIGHT = spaces.srgb_to_linear(np.repeat(np.arange(256)[:, None] / 255, 3, axis=1))[:, 0].astype(np.float32)


def photos(folder: Path | None) -> dict[str, Picture]:
    """Name to 8-bit sRGB picture."""
    if folder is None:
        places = [Path(skimage.__file__).parent / "data" / name for name in SKIMAGE]
        places += [Path(sklearn.__file__).parent / "datasets" / "images" / name for name in SKLEARN]
        folder = Path(__file__).parents[1] / "samples"
    else:
        places = []
    places += sorted(p for p in folder.iterdir() if p.suffix.lower() in
                     {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic", ".webp"})  # fmt: skip
    found = {}
    for place in places:
        linear = reading.read(place, about_pixels=PIXELS).linear
        found[place.stem] = np.rint(255 * np.clip(spaces.linear_to_srgb(linear), 0, 1)).astype(np.uint8)
    return found


def lab_of(srgb_u8: Picture) -> np.ndarray:
    return spaces.linear_to_lab(LIGHT[srgb_u8])


def distinct(picture: Picture) -> tuple[np.ndarray, np.ndarray]:
    """The distinct colours in Lab and their pixels: k-means on these is k-means on all pixels."""
    code = picture.reshape(-1, 3).astype(np.uint32) @ np.array([1 << 16, 1 << 8, 1], np.uint32)
    code, number = np.unique(code, return_counts=True)
    return lab_of(np.stack([code >> 16, code >> 8 & 255, code & 255], axis=1).astype(np.uint8)), number


def squares(colours: np.ndarray, number: np.ndarray, centres: np.ndarray) -> float:
    least = np.full(len(colours), np.inf)
    for centre in centres:
        least = np.minimum(least, ((colours - centre) ** 2).sum(axis=1))
    return float(least @ number)


def ours(picture: Picture, count: int) -> np.ndarray:
    return palette.reduce_colours(LIGHT[picture], count).lab


def ours_without_accents(picture: Picture, count: int) -> np.ndarray:
    return palette.reduce_colours(LIGHT[picture], count, keep_accents=False).lab


def k_means(restarts: int) -> Fit:
    def fit(picture: Picture, count: int) -> np.ndarray:
        colours, number = distinct(picture)
        return (
            KMeans(count, n_init=restarts, random_state=0).fit(colours, sample_weight=number).cluster_centers_
        )

    return fit


def mini_batch(picture: Picture, count: int) -> np.ndarray:
    return (
        MiniBatchKMeans(count, random_state=0, n_init=3).fit(lab_of(picture).reshape(-1, 3)).cluster_centers_
    )


def bisecting(picture: Picture, count: int) -> np.ndarray:
    colours, number = distinct(picture)
    return BisectingKMeans(count, random_state=0).fit(colours, sample_weight=number).cluster_centers_


def opencv(picture: Picture, count: int) -> np.ndarray:
    cv2.setRNGSeed(1)
    pixels = lab_of(picture).reshape(-1, 3)[::4].astype(np.float32)
    return cv2.kmeans(pixels, count, None, (3, 30, 0.01), 3, cv2.KMEANS_PP_CENTERS)[2].astype(float)


def pillow(method: Image.Quantize) -> Fit:
    def fit(picture: Picture, count: int) -> np.ndarray:
        reduced = Image.fromarray(picture).quantize(count, method=method, dither=Image.Dither.NONE)
        return lab_of(np.array(reduced.getpalette()[: 3 * count], np.uint8).reshape(-1, 3))

    return fit


PEERS: dict[str, Fit] = {
    "k-means, best of 20": k_means(20),
    "k-means, one start": k_means(1),
    "mini-batch k-means": mini_batch,
    "bisecting k-means": bisecting,
    "OpenCV k-means": opencv,
    "Pillow median cut": pillow(Image.Quantize.MEDIANCUT),
    "Pillow octree": pillow(Image.Quantize.FASTOCTREE),
}


def between(one: np.ndarray, two: np.ndarray) -> np.ndarray:
    return delta_e_2000(np.asarray(one)[:, None], np.asarray(two)[None])


def faithful(pictures: dict[str, Picture], fits: dict[str, Fit]) -> None:
    print("\nfaithful: sum of squares / best of 20 restarts of k-means, at 6, 8 and 12 colours")
    ratios: dict[str, list[tuple[float, str, int, int]]] = {}
    for name, picture in pictures.items():
        colours, number = distinct(picture)
        for count in (6, 8, 12):
            best = squares(colours, number, PEERS["k-means, best of 20"](picture, count))
            for who, fit in fits.items():
                centres = fit(picture, count)
                row = squares(colours, number, centres) / best, name, count, len(centres)
                ratios.setdefault(who, []).append(row)
    for who, rows in ratios.items():
        worst = max(rows)
        exact = all(row[2] == row[3] for row in rows)
        exact = "always" if exact else "NOT always"
        print(f"  {who:24} mean {np.mean([row[0] for row in rows]):.4f}, worst {worst[0]:.3f} "
              f"({worst[1]}, {worst[2]}); {exact} that many colours")  # fmt: skip


def far_colours(picture: Picture, seed: int) -> Iterator[np.ndarray]:
    """Colours of a grid of sRGB more than 25 CIEDE2000 from every pixel, in a fixed random order."""
    colours = np.unique(np.round(distinct(picture)[0] * 2) / 2, axis=0)
    levels = np.rint(np.linspace(0, 255, 9)).astype(np.uint8)
    grid = np.stack(np.meshgrid(levels, levels, levels), axis=-1).reshape(-1, 3)
    for colour in grid[np.random.default_rng(seed).permutation(len(grid))]:
        lab = lab_of(colour[None])[0]
        near = np.argsort(np.abs(colours - lab).sum(axis=1))[:500]
        # 26 to the rounded colours is more than 25 to the pixels, which lie within half a unit of them.
        if delta_e_2000(colours[near], lab).min() > 26 and delta_e_2000(colours, lab).min() > 26:
            yield colour


def patched(picture: Picture, colour: np.ndarray, at: np.ndarray, area: float) -> Picture:
    height, width = picture.shape[:2]
    side = round((area * height * width) ** 0.5)
    y, x = (int(part * (whole - side)) for part, whole in zip(at, (height, width), strict=True))
    copy = picture.copy()
    copy[y : y + side, x : x + side] = colour
    return copy


def vivid(pictures: dict[str, Picture], fits: dict[str, Fit]) -> None:
    draws = np.random.default_rng(7)
    sources = {name: far_colours(picture, i) for i, (name, picture) in enumerate(pictures.items())}
    cases: list[tuple[str, np.ndarray, np.ndarray]] = []
    while sources and len(cases) < 20:
        for name in list(sources):
            colour = next(sources[name], None)
            if colour is None:
                del sources[name]
            elif len(cases) < 20:
                cases.append((name, colour, draws.random(2)))
    print(f"\nvivid: flat squares found within 3 CIEDE2000, of {len(cases)} pictures from "
          f"{len({case[0] for case in cases})} photos")  # fmt: skip
    print(" " * 27 + "".join(f"{f'{count} at {area:.1%}':>12}" for area in AREAS for count in (6, 8)))
    for who, fit in fits.items():
        hits = []
        for area in AREAS:
            for count in (6, 8):
                found = []
                for name, colour, at in cases:
                    centres = fit(patched(pictures[name], colour, at, area), count)
                    found.append(between(centres, lab_of(colour[None])).min())
                hits.append(sum(off <= 3 for off in found))
        print(f"  {who:24} " + "".join(f"{hit:>12}" for hit in hits))


def ball(
    picture: Picture, linear: np.ndarray, at: tuple[float, float], area: float
) -> tuple[Picture, np.ndarray]:
    """A shaded ball: Lambert's cosine from the upper left, a fifth of ambient light, a glossy spot."""
    height, width = picture.shape[:2]
    radius = (area * height * width / np.pi) ** 0.5
    y, x = np.mgrid[0:height, 0:width]
    u, v = (x + 0.5 - at[0] * width) / radius, (y + 0.5 - at[1] * height) / radius
    flat = u * u + v * v
    normal = np.stack([u, v, np.sqrt(np.clip(1 - flat, 0, None))], axis=-1)
    lamp = np.array([-0.5, -0.6, 0.62])
    light = 0.2 + 0.8 * np.clip(normal @ lamp, 0, None)
    half = lamp + np.array([0.0, 0.0, 1.0])
    gloss = 0.5 * np.clip(normal @ (half / np.linalg.norm(half)), 0, None) ** 60
    drawn = np.where((flat <= 1)[..., None], linear * light[..., None] + gloss[..., None], LIGHT[picture])
    blurred = cv2.GaussianBlur(drawn.astype(np.float32), (0, 0), 0.6)
    result = np.rint(255 * np.clip(spaces.linear_to_srgb(blurred), 0, 1)).astype(np.uint8)
    return result, spaces.linear_to_lab(LIGHT[result][flat <= 1].mean(axis=0))


#: Photo, what is drawn, its reflectance in linear light, where (parts of the sides), part of the area.
ACCENTS = (
    ("china", "a kite", (0.75, 0.30, 0.02), (0.80, 0.15), 0.0006),
    ("flower", "a ladybird", (0.60, 0.02, 0.02), (0.15, 0.80), 0.0010),
    ("coffee", "a blueberry", (0.05, 0.07, 0.35), (0.15, 0.20), 0.0015),
    ("chelsea", "a green bead", (0.04, 0.35, 0.08), (0.10, 0.15), 0.0008),
)


def accents(pictures: dict[str, Picture], fits: dict[str, Fit]) -> None:
    cases = [case for case in ACCENTS if case[0] in pictures]
    print("\naccents: CIEDE2000 from a small shaded ball to the nearest of 8 colours")
    for who, fit in fits.items():
        found = []
        for name, what, linear, at, area in cases:
            picture, lab = ball(pictures[name], np.array(linear), at, area)
            found.append((float(between(fit(picture, 8), lab[None]).min()), what))
        print(f"  {who:24} {sum(off <= 5 for off, _ in found)} of {len(found)} within 5: "
              + ", ".join(f"{what} {off:.1f}" for off, what in found))  # fmt: skip


def variants(picture: Picture) -> Iterator[tuple[str, Picture]]:
    height, width = picture.shape[:2]
    yield "half", cv2.resize(picture, (width // 2, height // 2), interpolation=cv2.INTER_AREA)
    yield "quarter", cv2.resize(picture, (width // 4, height // 4), interpolation=cv2.INTER_AREA)
    stored = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 60])[1]
    yield "JPEG 60", cv2.imdecode(stored, cv2.IMREAD_COLOR_RGB)
    down, across = round(0.03 * height), round(0.03 * width)
    yield "crop", picture[down : height - down, across : width - across]


def stable(pictures: dict[str, Picture], fits: dict[str, Fit]) -> None:
    print("\nstable: mean CIEDE2000 that 8 colours move")
    for who, fit in fits.items():
        moved: dict[str, list[float]] = {}
        same = True
        for picture in pictures.values():
            before = fit(picture, 8)
            same &= who != "analyser" or np.array_equal(before, fit(picture, 8))
            for what, changed in variants(picture):
                away = between(before, fit(changed, 8))
                moved.setdefault(what, []).append(float(away[linear_sum_assignment(away)].mean()))
        every = np.mean([value for values in moved.values() for value in values])
        each = ", ".join(f"{what} {np.mean(values):.2f}" for what, values in moved.items())
        again = f"; same file again: {'identical' if same else 'DIFFERENT'}" if who == "analyser" else ""
        print(f"  {who:24} {every:.2f}  ({each}{again})")


def large_jpeg(picture: Picture, folder: Path) -> Path:
    """A JPEG of 24 megapixels, 10 MB: noise keeps the entropy coding as busy as a camera's file does."""
    draws = np.random.default_rng(0)
    large = cv2.resize(picture, (6000, 4000), interpolation=cv2.INTER_CUBIC)
    large = np.clip(large + draws.normal(0, 4, large.shape), 0, 255).astype(np.uint8)
    file = folder / "large.jpg"
    cv2.imwrite(str(file), large[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])
    return file


def fast(pictures: dict[str, Picture]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = large_jpeg(next(iter(pictures.values())), Path(folder))
        data = np.frombuffer(file.read_bytes(), np.uint8)

        def to_palette() -> None:
            photo = reading.read(file, about_pixels=palette.READ_PIXELS)
            plain = calibration.calibrate(photo, "none")
            corrected = plain.corrected(photo)
            palette.of_photo(corrected, plain, colours=8, subject=find_subject(corrected))

        def peer() -> None:
            small = cv2.imdecode(data, cv2.IMREAD_REDUCED_COLOR_8)
            Image.fromarray(small).quantize(8, method=Image.Quantize.MEDIANCUT)

        # The child tells its own peak: what a parent counts includes the memory it had itself when it forked.
        script = ("import sys; from analyser.cli.start import run\n"
                  "try: run()\n"
                  "finally: print([line.split()[1] for line in open('/proc/self/status')"
                  " if line.startswith('VmHWM')][0], file=sys.stderr)")  # fmt: skip
        peak = []

        def command() -> None:
            line = [sys.executable, "-c", script, "palette", str(file), "--colours", "8", "--quiet",
                    "--calibration", "none", "--json", str(Path(folder) / "answer.json")]  # fmt: skip
            done = subprocess.run(line, check=True, capture_output=True, text=True)
            peak.append(int(done.stderr.split()[-1]) / 1024)

        jobs = {"decode": lambda: cv2.imdecode(data, cv2.IMREAD_COLOR), "palette": to_palette, "peer": peer,
                "command": command}  # fmt: skip
        times: dict[str, list[float]] = {name: [] for name in jobs}
        for _ in range(11):  # interleaved, so that all see the same machine
            for name, job in jobs.items():
                start = time.perf_counter()
                job()
                times[name].append(time.perf_counter() - start)
        decode = np.median(times["decode"])
        print(f"\nfast: 24 megapixels, {len(data) / 1e6:.0f} MB; a full decode takes {1e3 * decode:.0f} ms")
        print(f"  to palette, in process      {np.median(times['palette']) / decode:.2f} decodes")
        print(f"  peer: eighth + median cut   {np.median(times['peer']) / decode:.2f} decodes")
        whole = np.median(times["command"]) / decode
        print(f"  the whole command           {whole:.2f} decodes, {max(peak):.0f} MiB")


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--only", default="faithful,vivid,accents,stable,fast")
    parser.add_argument("--alone", action="store_true", help="without the peers")
    options = parser.parse_args()
    warnings.simplefilter("ignore")
    pictures = photos(options.folder)
    print(f"{len(pictures)} photos: {', '.join(pictures)}")
    peers = {} if options.alone else PEERS
    mine = {"analyser": ours, **peers}
    asked = options.only.split(",")
    if "faithful" in asked:
        faithful(pictures, {"analyser, accents off": ours_without_accents, **mine})
    if "vivid" in asked:
        vivid(pictures, mine)
    if "accents" in asked:
        accents(pictures, mine)
    if "stable" in asked:
        stable(pictures, mine)
    if "fast" in asked:
        fast(pictures)


if __name__ == "__main__":
    main()
