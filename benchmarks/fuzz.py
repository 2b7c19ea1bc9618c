"""Readers fed with broken files by the hundred thousand: an answer or one line, within five seconds each.

Tests of the same readers (tests/fuzz) choose their cases with more thought and shrink what they find; this is
for number. Lists are made of odd cells, then harmed; photos are files of each format, harmed in places.
Prints, for each kind, how many were tried, read and refused, the slowest, and what failed with its first
case kept.

    python -m benchmarks.fuzz [SECONDS [WORKERS [FOLDER]]]
"""

from __future__ import annotations

import io
import os
import random
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import cv2
import numpy as np
from openpyxl import Workbook
from PIL import Image

from analyser.errors import AnalyserError
from analyser.photo import reading
from analyser.stock.list import stock_list

ROOT = Path(__file__).resolve().parents[1]
HEADS = [
    "id",
    "name",
    "size",
    "hex",
    "quantity",
    "unit",
    "lot",
    "cost",
    "notes",
    "L",
    "a",
    "b",
    "finish",
    "Menge",
    "",
]
CELLS = [
    *("", "-", "11/0", "8.0", "1,234", "1.234,5", "~40 g", "40 g +- 2", "2 x 7.5g", "1e999", "nan", "-3",
    "=1+1"), *("#REF!", "#8fa1b6", "#fff", "lab:50,0,0", "2026-03-01", "'", '"', '""', "a|b", "a;b", "a\tb",
    "a\nb"), *("\ufeff", "\u202e", "\x00", "\x1b[2J", "é" * 40, "9" * 400, "galvanised", "round", "total",
    "USD 3 per 10 g"),
]  # fmt: skip


def harmed(data: bytes, chance: random.Random) -> bytes:
    """The bytes with one to six places changed, lost, doubled or zeroed."""
    for _ in range(chance.randint(1, 6)):
        at, size = chance.randrange(max(1, len(data))), chance.choice([1, 1, 2, 4, 16, 200])
        middle = {
            "set": chance.randbytes(size),
            "flip": bytes(byte ^ 1 << chance.randrange(8) for byte in data[at : at + 1]),
            "lose": b"",
            "double": data[at : at + size] * 2,
            "zero": bytes(size),
        }
        how = chance.choice([*middle, "cut"])
        if how == "cut":
            data = data[: max(1, at)]
        else:
            gone = 1 if how == "flip" else size
            data = data[:at] + middle[how] + data[at + gone :]
    return data


def text_list(chance: random.Random) -> bytes:
    """A CSV of odd cells, in any divider and encoding, half of them harmed."""
    wide, divider = chance.randint(1, 8), chance.choice(",;\t|")
    rows = [chance.choices(HEADS, k=wide)] + [
        chance.choices(CELLS, k=wide) for _ in range(chance.randint(0, 6))
    ]
    quoted = (
        [f'"{c.replace(chr(34), chr(34) * 2)}"' if chance.random() < 0.4 else c for c in row] for row in rows
    )
    text = chance.choice(["\n", "\r\n", "\r"]).join(divider.join(row) for row in quoted)
    data = text.encode(chance.choice(["utf-8", "utf-8-sig", "utf-16", "cp1252"]), "replace")
    return harmed(data, chance) if chance.random() < 0.5 else data


def whole_photos() -> dict[str, bytes]:
    """A small photo in each format."""
    ramp = np.linspace(20, 230, 40).astype(np.uint8)
    pixels = np.dstack(
        [np.add.outer(ramp // 2, ramp // 2), np.tile(ramp, (40, 1)), np.tile(ramp[::-1], (40, 1))]
    )
    made = {}
    for name, kind, options in (
        ("jpeg", "JPEG", {}),
        ("jpeg progressive", "JPEG", {"progressive": True}),
        ("png", "PNG", {}),
        ("tiff", "TIFF", {}),
        ("tiff lzw", "TIFF", {"compression": "tiff_lzw"}),
        ("tiff deflate", "TIFF", {"compression": "tiff_adobe_deflate"}),
        ("webp", "WEBP", {}),
        ("webp lossless", "WEBP", {"lossless": True}),
    ):
        stream = io.BytesIO()
        Image.fromarray(pixels).save(stream, kind, **options)
        made[name] = stream.getvalue()
    made["tiff 16"] = cv2.imencode(".tiff", pixels.astype(np.uint16) * 257)[1].tobytes()
    for path in sorted((ROOT / "tests" / "photo" / "heic").glob("*.heic")):
        made[f"heic {path.stem}"] = path.read_bytes()
    return made


def workbook() -> bytes:
    """A small XLSX."""
    book = Workbook()
    book.active.append(["id", "name", "size", "hex", "quantity"])
    book.active.append(["teal", "Teal", "11/0", "#37575b", 40])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def _tried(kind: str, seed: int, seconds: float, keep: str) -> tuple[str, Counter[str], float]:
    chance, counts, slowest = random.Random(seed), Counter[str](), 0.0
    photos = whole_photos()
    whole = {**photos, "xlsx": workbook()}.get(kind, b"")
    is_list = kind in ("csv", "xlsx")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "file")
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            data = harmed(whole, chance) if whole else text_list(chance)
            path.write_bytes(data)
            began = time.process_time()
            try:
                if is_list:
                    stock_list.read(path)
                else:
                    reading.read(path, about_pixels=9000, limit_mp=4)
                counts["read"] += 1
            except AnalyserError as error:
                if str(error).isprintable() and len(str(error)) < 600:
                    counts["refused"] += 1
                else:
                    counts[f"NOT ONE LINE {error!r}"[:120]] += 1
                    Path(keep, f"{kind}-lines").write_bytes(data)
            except Exception as error:
                counts[f"FAILED {type(error).__name__}: {error}"[:120]] += 1
                Path(keep, f"{kind}-{type(error).__name__}").write_bytes(data)
            slowest = max(slowest, time.process_time() - began)
    return kind, counts, slowest


def main(seconds: float, workers: int, keep: str) -> None:
    """Feed them for so long, and print a line for each kind."""
    kinds = [*whole_photos(), "xlsx", *["csv"] * 24]
    share = seconds * workers / len(kinds)
    found: dict[str, tuple[Counter[str], list[float]]] = {}
    with ProcessPoolExecutor(workers) as pool:
        jobs = (kinds, range(len(kinds)), [share] * len(kinds), [keep] * len(kinds))
        for kind, counts, slowest in pool.map(_tried, *jobs):
            total, times = found.setdefault(kind, (Counter(), []))
            total.update(counts)
            times.append(slowest)
    for kind, (counts, times) in found.items():
        print(f"{kind:22} {sum(counts.values()):8}  {dict(counts)}  slowest {max(times):.2f} s")


if __name__ == "__main__":
    main(
        float(sys.argv[1]) if len(sys.argv) > 1 else 60.0,
        int(sys.argv[2]) if len(sys.argv) > 2 else (os.cpu_count() or 1),
        sys.argv[3] if len(sys.argv) > 3 else tempfile.gettempdir(),
    )
