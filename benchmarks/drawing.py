"""What a page of rope pictures costs: twelve previews, and how the cost grows with the beads.

    python -m benchmarks.drawing [--pictures DIR]

Prints the time of twelve colourings of one rope, its placing included, against the two seconds a page may
take; and the time of ropes of 1, 2 and 4 times the beads, each drawn at one scale, as ratios: 1, 2, 4 would
be cost in proportion. Each figure is the best of several interleaved runs; times are those of the wall
clock, ratios those of processor time, which a busy machine spoils less.

With ``--pictures`` nothing is timed: a rope of each motif and one of each finish are drawn into the folder,
to be looked at.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from analyser.arrays import FloatArray
from analyser.colour.spaces import linear_to_srgb
from analyser.drawing import rope_view
from analyser.drawing.rope_view import BeadLook, Ends
from analyser.drawing.scene import LitSurface
from analyser.motif import parsing
from analyser.stock.bead import FINISHES

PAGE_S = 2.0
RUNS = 5
TWELVE = (*FINISHES, "opaque", "matte")


def looks(number: int) -> dict[str, BeadLook]:
    accent = BeadLook((30.0 + 5.0 * number, 40.0 - 6.0 * number, 35.0 - 4.0 * number), TWELVE[number])
    body = BeadLook((75.0 - 4.0 * number, -20.0 + 4.0 * number, -25.0 + 5.0 * number), TWELVE[-number])
    return {"accent": accent, "body": body}


def chenille(times: int, px_per_mm: float = 12.0) -> LitSurface:
    rope = parsing.load("chenille").rope(24 * times)
    width_px = round(rope.length_beads * 1.45 * px_per_mm) + 40
    return rope_view.straight(rope, width_px=width_px, height_px=130, px_per_mm=px_per_mm, start_mm=1.5)


def twelve_previews() -> None:
    rope = parsing.load("chenille").rope(60)
    seen = rope_view.straight(rope, width_px=1080, height_px=150, px_per_mm=13.5, ends=Ends())
    for number in range(12):
        rope_view.paint_linear(seen, looks(number))


def twelve_motifs() -> None:
    for number, name in enumerate(parsing.names()[:12]):
        rope = parsing.load(name).rope(60)
        seen = rope_view.straight(rope, width_px=1080, height_px=150, px_per_mm=13.5, ends=Ends())
        rope_view.paint_linear(seen, looks(number))


def ring() -> None:
    seen = rope_view.ring(parsing.load("chenille").rope(68), side_px=440, ends=Ends())
    rope_view.paint_linear(seen, looks(0))


def drawn(times: int) -> Callable[[], None]:
    def run() -> None:
        rope_view.paint_linear(chenille(times), looks(3))

    return run


def write_pictures(folder: Path) -> None:
    """A rope of each motif in plain colours, and a rope of each finish, body as its accent."""
    folder.mkdir(parents=True, exist_ok=True)
    plain = {
        "accent": BeadLook((88.0, 2.0, 12.0)),
        "body": BeadLook((45.0, 38.0, 18.0)),
        "third": BeadLook((52.0, -8.0, -30.0)),
    }
    for name in parsing.names():
        rope = parsing.load(name).rope(24)
        seen = rope_view.straight(rope, width_px=1400, height_px=300, px_per_mm=28.0, ends=Ends())
        _write(folder / f"motif-{name}.png", rope_view.paint_linear(seen, plain))
    seen = rope_view.straight(parsing.load("chenille").rope(16), width_px=1400, height_px=300, px_per_mm=28.0)
    for finish in FINISHES:
        look = {"accent": BeadLook((75.0, 2.0, 45.0), finish), "body": BeadLook((42.0, 20.0, -32.0), finish)}
        _write(folder / f"finish-{finish}.png", rope_view.paint_linear(seen, look))


def _write(path: Path, linear: FloatArray) -> None:
    srgb = np.round(linear_to_srgb(linear[..., :3]) * 255).astype(np.uint8)
    cv2.imwrite(str(path), srgb[..., ::-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=Path, metavar="DIR")
    folder = parser.parse_args().pictures
    if folder is not None:
        write_pictures(folder)
    else:
        measure()


def measure() -> None:
    jobs: dict[str, Callable[[], None]] = {
        "twelve": twelve_previews,
        "motifs": twelve_motifs,
        "ring": ring,
        "1x": drawn(1),
        "2x": drawn(2),
        "4x": drawn(4),
    }
    best, spent = (dict.fromkeys(jobs, float("inf")) for _ in range(2))
    for _ in range(RUNS):
        for name, job in jobs.items():
            start, used = time.perf_counter(), time.process_time()
            job()
            best[name] = min(best[name], time.perf_counter() - start)
            spent[name] = min(spent[name], time.process_time() - used)
    for name, says in (("twelve", "twelve colourings of one rope"), ("motifs", "one each of twelve motifs")):
        print(f"{says}, 1080 x 150: {best[name]:.2f} s, {best[name] / PAGE_S:.2f} of 2 s")
    print(f"a bracelet as a ring, 440 x 440: {best['ring']:.2f} s")
    for times in (1, 2, 4):
        beads = len(parsing.load("chenille").rope(24 * times))
        ratio, more = spent[f"{times}x"] / spent["1x"], beads / len(parsing.load("chenille").rope(24))
        print(f"{beads:5d} beads ({more:.2f} times): {best[f'{times}x']:.3f} s, ratio of cost {ratio:.2f}")


if __name__ == "__main__":
    main()
