"""Writers killed at every step and at any moment: old or new, complete, and what is left behind cleared away.

A writer is a child process that changes a CSV list, an XLSX list, a kept colourway or the page's store of
photos. It kills itself before one of its steps (a file opened for writing, forced to disk, renamed, linked,
removed), each in turn, or is killed at a random moment. After each kill the file must be the old or the new
one, undo must bring back an earlier version, the next write must work, and after it no hidden file may be
left.

    python -m benchmarks.kills [KILLS [WORKERS]]
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from openpyxl import Workbook

from analyser.batch.store import BatchStore, Outcome
from analyser.piece import kept
from analyser.stock.list import booking, stock_list, writing
from analyser.web.archive import Archive, KeptPhoto

ROWS = 12
LIST = Path("list.csv")  # whose photos the page keeps
_STEPS = {"open", "os.rename", "os.remove", "os.link", "os.mkdir", "os.chmod", "os.truncate"}


@dataclass(frozen=True)
class Store:
    """Something that is written: how it is set up, changed, and checked after a kill."""

    set_up: Callable[[Path], None]
    change: Callable[[Path], None]
    check: Callable[[Path], str]


# --- lists ----------------------------------------------------------------------------------------


def _rows() -> list[list[object]]:
    heads: list[list[object]] = [["id", "name", "size", "hex", "quantity", "unit", "notes"]]
    return heads + [[f"b{n}", f"Bead {n}", "11/0", "#37575b", 4000, "beads", "Zürich"] for n in range(ROWS)]


def _set_up_list(path: Path) -> None:
    if path.suffix == ".csv":
        text = "\r\n".join(";".join(str(cell) for cell in row) for row in _rows()) + "\r\n"
        path.write_text(text, encoding="utf-8", newline="")
    else:
        book = Workbook()
        for row in _rows():
            book.active.append(row)
        book.save(path)
    _book(path)  # so that there is a backup


def _book(path: Path) -> None:
    first = stock_list.read(path).beads[0]
    booking.book_out(path, [(first, 100)])


def _left(path: Path) -> int:
    beads = stock_list.read(path).beads
    assert len(beads) == ROWS
    assert beads[0].quantity is not None
    return round(beads[0].quantity.amount)


def _check_list(path: Path) -> str:
    now = _left(path)
    assert now in (3900, 3800), now
    writing.restore(path)
    before = _left(path)
    assert before in ({3900: (4000, 3900), 3800: (3900,)}[now]), (now, before)
    writing.restore(path)
    assert _left(path) == now
    _book(path)
    assert _left(path) == now - 100
    return "new" if now == 3800 else "old"


# --- kept colourways ------------------------------------------------------------------------------

_BEAD = kept.KeptBead("b1", "Bead", "", "11/0", "round", None, (50.0, 1.0, 2.0), 400)
_KEPT = kept.KeptColourway(
    *("Quay", datetime.date(2026, 3, 1), "chenille", "11/0", "round", 180.0, None),
    *({"body": _BEAD}, (kept.KeptColour((50.0, 1.0, 2.0), 1.0, "grey"),), "quay.jpg", "0" * 64),
)


def _keep_and_mark(folder: Path) -> None:
    kept.mark(folder / "quay.toml", "woven")
    kept.keep(folder, dataclasses.replace(_KEPT, name="Second"), b"\xff\xd8 picture")


def _check_kept(folder: Path) -> str:
    for part in folder.glob(".*.part"):  # those without a lock are cleared away after five minutes
        os.utime(part, (time.time() - 600,) * 2)
    found, faulty = kept.read_all(folder)
    assert not faulty
    assert folder / "quay.toml" in found
    second = folder / "second.toml"
    assert second not in found or kept.picture_of(second) == b"\xff\xd8 picture"
    if second in found:
        kept.delete(second)
    kept.mark(folder / "quay.toml", "sold")
    kept.keep(folder, dataclasses.replace(_KEPT, name="Second"), b"\xff\xd8 picture")
    return "new" if second in found else found[folder / "quay.toml"].state.replace("woven", "half way")


# --- the page's store -----------------------------------------------------------------------------


def _photo(number: int) -> KeptPhoto:
    answer: dict[str, Any] = {"answer": [number] * 3000}
    return KeptPhoto(f"p{number}", "colourway", "a.jpg", {}, "done", "", "", answer, time.time())


def _put(folder: Path, number: int) -> None:
    place = folder / f"p{number}"
    place.mkdir(exist_ok=True)
    (place / "a.jpg").write_bytes(b"\xff\xd8 photo")
    Archive(folder, LIST).keep(_photo(number))


def _set_up_store(folder: Path) -> None:
    folder.mkdir()
    _put(folder, 1)


def _check_store(folder: Path) -> str:
    ids = [photo.id for photo in Archive(folder, LIST).photos()]
    assert ids in (["p1"], ["p1", "p2"]), ids
    for photo in Archive(folder, LIST).photos():
        assert photo.result == {"answer": [int(photo.id[1:])] * 3000}
    _put(folder, 3)
    assert Archive(folder, LIST).photos()[-1].id == "p3"
    assert not list(folder.glob("*.aside"))
    return "new" if "p2" in ids else "old"


def _set_up_kept(folder: Path) -> None:
    kept.keep(folder, _KEPT, None)


def _outcome(folder: Path, number: int) -> None:
    BatchStore(folder).put(Outcome("ab12", "a.jpg", "done", answer={"lab": [number] * 9000}))


def _check_batch(folder: Path) -> str:
    for part in folder.glob("answers/*/.*.part"):
        os.utime(part, (time.time() - 600,) * 2)
    now = BatchStore(folder).get("ab12")
    assert now is not None
    assert now.answer in ({"lab": [1] * 9000}, {"lab": [2] * 9000})
    _outcome(folder, 3)
    assert [path.name for path in folder.glob("answers/*/*")] == ["ab12.json"]
    return "new" if now.answer["lab"][0] == 2 else "old"


STORES = {
    "list.csv": Store(_set_up_list, _book, _check_list),
    "list.xlsx": Store(_set_up_list, _book, _check_list),
    "kept": Store(_set_up_kept, _keep_and_mark, _check_kept),
    "batch": Store(lambda folder: _outcome(folder, 1), lambda folder: _outcome(folder, 2), _check_batch),
    "page": Store(_set_up_store, lambda folder: _put(folder, 2), _check_store),
}


# --- killing --------------------------------------------------------------------------------------


def _die_before(step: int) -> Callable[[], int]:
    """From now on count the steps that change files, and be killed before one of them; the count so far."""
    seen = 0

    def count() -> None:
        nonlocal seen
        seen += 1
        if seen == step:
            os.kill(os.getpid(), signal.SIGKILL)

    def hook(event: str, given: tuple[Any, ...]) -> None:
        if event in _STEPS and (event != "open" or (isinstance(given[2], int) and given[2] & 3)):
            count()

    whole = os.fsync

    def fsync(handle: int) -> None:
        count()
        whole(handle)
        count()

    os.fsync = fsync
    sys.addaudithook(hook)
    return lambda: seen


def _child(change: Callable[[Path], None], path: Path, step: int) -> tuple[int, int]:
    """Begin to change a file in a child; its process, and a pipe that tells its steps when it has done."""
    reads, writes = os.pipe()
    process = os.fork()
    if process == 0:
        told = _die_before(step)
        change(path)
        os.write(writes, told().to_bytes(4, "big"))
        os._exit(0)
    os.close(writes)
    return process, reads


def _hidden(path: Path) -> list[str]:
    beside = path if path.is_dir() else path.parent
    return sorted(one.name for one in beside.iterdir() if one.name.startswith("."))


def killed(name: str, kills: range, folder: Path) -> Counter[str]:
    """Kill a store's writer so many times; how often it was old and new afterwards."""
    store, outcomes, chance = STORES[name], Counter[str](), random.Random(kills.start)
    ready, path = folder / "ready", folder / "work" / name
    ready.mkdir()
    store.set_up(ready / name)

    def renew() -> None:
        shutil.rmtree(path.parent, ignore_errors=True)
        shutil.copytree(ready, path.parent)

    renew()
    began = time.monotonic()
    process, told = _child(store.change, path, 0)
    os.waitpid(process, 0)
    steps, lasts = int.from_bytes(os.read(told, 4), "big"), time.monotonic() - began
    os.close(told)
    for number in kills:
        renew()
        step = number // 2 % steps + 1 if number % 2 else 0
        process, told = _child(store.change, path, step)
        if not step:
            time.sleep(chance.uniform(0, lasts))
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)
        _, ended = os.waitpid(process, 0)
        os.close(told)
        outcomes["killed" if os.WIFSIGNALED(ended) else "had done"] += 1
        outcomes[store.check(path)] += 1
        assert not _hidden(path), _hidden(path)
    return outcomes


def _in_a_folder(name: str, kills: range) -> tuple[str, Counter[str]]:
    with tempfile.TemporaryDirectory() as folder:
        return name, killed(name, kills, Path(folder))


def main(kills: int, workers: int) -> None:
    """Kill each store's writer, and print what was found; any breach stops with its traceback."""
    part = -(-kills // workers)
    jobs = [
        (name, range(first, min(first + part, kills))) for name in STORES for first in range(0, kills, part)
    ]
    found: dict[str, Counter[str]] = {}
    with ProcessPoolExecutor(workers) as pool:
        for name, outcomes in pool.map(_in_a_folder, *zip(*jobs, strict=True)):
            found.setdefault(name, Counter()).update(outcomes)
    for name, outcomes in found.items():
        print(f"{name:10} {dict(sorted(outcomes.items()))}")


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 1000,
        int(sys.argv[2]) if len(sys.argv) > 2 else (os.cpu_count() or 1),
    )
