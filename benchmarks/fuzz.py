"""Readers fed with broken files by the hundred thousand: an answer or one line, within five seconds each.

Tests of the same readers (tests/fuzz) choose their cases with more thought and shrink what they find; this is
for number. Lists are made of odd cells, then harmed; of those that can still be read some are booked from,
and what was written is read again. Photos are files of each format, harmed in places. Batches run in
processes of their own, so that a crash, or more than five seconds of processor time for one file, is found
and its file kept. Prints, for each kind, how many were tried, read and refused, the slowest, the most memory
a process took, and what failed.

    python -m benchmarks.fuzz [LISTS [PHOTOS [WORKERS [FOLDER [FIRST]]]]]

LISTS are as many CSV, a tenth as many XLSX and ODS each; PHOTOS are tried of each kind. A file is made from
its number; those from FIRST on are tried (0), so that a later run can try others.
"""

from __future__ import annotations

import contextlib
import io
import multiprocessing
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
import warnings
import zipfile
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from openpyxl import Workbook
from PIL import Image, ImageCms

from analyser.errors import AnalyserError
from analyser.photo import reading
from analyser.stock.bead import Bead
from analyser.stock.list import booking, stock_list

BATCH = 2000
HANG_S = 5.0  # of processor time
BRIGHTEST = 10.0  # of white; the widest space in use reaches 2.6
LISTS = ("csv", "xlsx", "ods")
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
    """The bytes with one to six places, mostly one, changed, lost, doubled or zeroed."""
    for _ in range(chance.choice([1, 1, 1, 2, 3, 6])):
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
    if chance.random() < 0.4:  # beads there are, whatever else stands beside them
        sound = ([f"bead {number}", "11/0", "40", "grams"] for number in range(len(rows)))
        rows = [one + row for one, row in zip(sound, rows, strict=True)]
        rows[0][:4] = ["id", "size", "quantity", "unit"]
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
    told = Image.Exif()
    told.update({271: "maker", 274: 6, 34665: {37386: 5.0, 40961: 1, 41989: 28}})
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    made: dict[str, bytes] = {}
    options: dict[str, Any]
    for name, kind, options in (
        ("jpeg", "JPEG", {}),
        ("jpeg told of", "JPEG", {"exif": told, "icc_profile": profile}),
        ("jpeg restarts", "JPEG", {"restart_marker_rows": 1}),
        ("jpeg progressive", "JPEG", {"progressive": True}),
        ("png", "PNG", {}),
        ("png told of", "PNG", {"exif": told, "icc_profile": profile}),
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
    book.active.append(["id", "name", "size", "hex", "quantity", "unit"])
    book.active.append(["teal", "Teal", "11/0", "#37575b", 40, "grams"])
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def open_spreadsheet() -> bytes:
    """A small ODS."""
    rows = (("id", "name", "hex", "quantity", "unit"), ("teal", "Teal", "#37575b", "40", "beads"))
    cell = '<table:table-cell office:value-type="string"><text:p>{}</text:p></table:table-cell>'
    cells = ("".join(cell.format(text) for text in row) for row in rows)
    inner = "".join(f"<table:table-row>{row}</table:table-row>" for row in cells)
    space = ' xmlns:{0}="urn:oasis:names:tc:opendocument:xmlns:{0}:1.0"'
    names = "".join(space.format(name) for name in ("office", "table", "text"))
    content = (
        f"<office:document-content{names}><office:body><office:spreadsheet><table:table>{inner}</table:table>"
        "</office:spreadsheet></office:body></office:document-content>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content)
    return stream.getvalue()


def harmed_part(book: bytes, chance: random.Random) -> bytes:
    """A spreadsheet of which one packed part is harmed and the packing is sound."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as sound, zipfile.ZipFile(stream, "w") as archive:
        names = sound.namelist()
        broken = chance.choice(names)
        for name in names:
            part = sound.read(name)
            archive.writestr(name, harmed(part, chance) if name == broken else part)
    return stream.getvalue()


def _case(kind: str, whole: bytes, chance: random.Random) -> bytes:
    if kind == "csv":
        return text_list(chance)
    if kind in LISTS and chance.random() < 0.5:
        return harmed_part(whole, chance)
    return harmed(whole, chance)


def _booked(path: Path, chance: random.Random) -> str:
    """Book a bead out of a list that can be read, and see that nothing else has changed."""
    was = stock_list.read(path).beads
    bead = chance.choice(was)
    booking.book_out(path, [(bead, 1)])

    def rest(beads: tuple[Bead, ...]) -> list[Bead]:  # a price says from then on what it was for
        return [replace(one, quantity=None, cost=None, extra={}) for one in beads]

    now = stock_list.read(path).beads
    assert rest(now) == rest(was), "another list than was written"
    assert [o.quantity for o in now if o.row != bead.row] == [o.quantity for o in was if o.row != bead.row]
    return "booked"


def _answered(kind: str, path: Path, chance: random.Random) -> str:
    """What became of a file: read, refused in one line, or what went wrong, in capitals."""
    outcome = "read"
    try:
        if kind in LISTS:
            stock = stock_list.read(path, skip_faulty=chance.random() < 0.7)
            if stock.beads and chance.random() < 0.5:
                outcome = "read, not booked"
                outcome = _booked(path, chance)
        else:
            photo = reading.read(path, about_pixels=9000, limit_mp=4)
            assert np.abs(photo.linear).max() < BRIGHTEST, "light that no photo has"
    except AnalyserError as error:
        says = str(error)
        if not says.isprintable() or len(says) >= 600:
            return f"NOT ONE LINE {says!r}"[:120]
        return "refused" if outcome == "read" else outcome
    except Exception as error:
        return f"FAILED {type(error).__name__}: {error}"[:120]
    return outcome


def _tried(kind: str, whole: bytes, numbers: list[int], folder: Path, keep: Path, told: Connection) -> None:
    """Try files in a process of its own: tell each one's number, at last counts, slowest (s), memory (MB)."""
    counts, slowest = Counter[str](), 0.0
    warnings.simplefilter("error")  # a maker would see them
    signal.signal(signal.SIGPROF, signal.SIG_DFL)  # ends the process, in whatever library it hangs
    path = folder / "file"
    for number in numbers:
        chance = random.Random(f"{kind} {number}")
        path.write_bytes(data := _case(kind, whole, chance))
        told.send(number)
        signal.setitimer(signal.ITIMER_PROF, HANG_S)
        began = time.process_time()
        outcome = _answered(kind, path, chance)
        slowest = max(slowest, time.process_time() - began)
        signal.setitimer(signal.ITIMER_PROF, 0)
        counts[outcome] += 1
        if outcome[:3] in ("FAI", "NOT"):
            (keep / f"{kind} {number}".replace(" ", "-")).write_bytes(data)
    told.send((counts, slowest, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024))


def _batch(kind: str, whole: bytes, numbers: list[int], keep: Path) -> tuple[Counter[str], float, float]:
    """Try files, those behind one that ends its process in another."""
    with tempfile.TemporaryDirectory() as folder:
        hears, tells = multiprocessing.Pipe(duplex=False)
        given = (kind, whole, numbers, Path(folder), keep, tells)
        process = multiprocessing.get_context("fork").Process(target=_tried, args=given)
        process.start()
        tells.close()
        heard: Any = None
        with contextlib.suppress(EOFError):
            while not isinstance(heard, tuple):
                heard = hears.recv()
        process.join()
        if isinstance(heard, tuple):
            return heard
        shutil.copy(Path(folder, "file"), keep / f"{kind} {heard} ended".replace(" ", "-"))
        says = f"ENDED BY {signal.Signals(-process.exitcode).name}" if process.exitcode else "ENDED"
    counts, slowest, memory = _batch(kind, whole, [one for one in numbers if one != heard], keep)
    return counts + Counter({says: 1}), slowest, memory


def main(lists: int, photos: int, workers: int, keep: Path, first: int) -> None:
    """Try so many of each kind, and print a line for each."""
    cv2.setNumThreads(1)
    keep.mkdir(parents=True, exist_ok=True)
    kinds = {
        "csv": (b"", lists),
        "xlsx": (workbook(), lists // 10),
        "ods": (open_spreadsheet(), lists // 10),
        **{name: (whole, photos) for name, whole in whole_photos().items()},
    }
    with ThreadPoolExecutor(workers) as pool:
        for kind, (whole, count) in kinds.items():
            numbers = [
                list(range(first + at, first + min(at + BATCH, count))) for at in range(0, count, BATCH)
            ]
            jobs = [(kind, whole, some, keep) for some in numbers]
            counts, slowest, memory = Counter[str](), 0.0, 0.0
            for some, time_s, memory_mb in pool.map(_batch, *zip(*jobs, strict=True)) if jobs else ():
                counts.update(some)
                slowest, memory = max(slowest, time_s), max(memory, memory_mb)
            says = f"{kind:22} {counts.total():8}  {dict(counts)}  slowest {slowest:.2f} s, {memory:.0f} MB"
            print(says, flush=True)


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 100_000,
        int(sys.argv[2]) if len(sys.argv) > 2 else 10_000,
        int(sys.argv[3]) if len(sys.argv) > 3 else (os.cpu_count() or 1),
        Path(sys.argv[4] if len(sys.argv) > 4 else tempfile.gettempdir()),
        int(sys.argv[5]) if len(sys.argv) > 5 else 0,
    )
