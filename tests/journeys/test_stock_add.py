"""A tray photo becomes rows of the stock list, and the new beads are then used."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest

from analyser.stock.list import stock_list

NAMES = "\n".join(
    f"{name}; {name.replace('-', ' ').title()}"
    for name in (
        *("new-navy", "new-cream", "new-teal", "new-coral", "new-plum", "new-gold"),
        *("new-pine", "new-leaf", "new-black", "new-white", "new-garnet", "new-pink"),
    )
)


@pytest.fixture
def tray(samples: Path, tmp_path: Path) -> Path:
    """The sample tray at half its size: measured sooner, and twelve piles all the same."""
    picture = cv2.imread(str(samples / "tray-of-beads.jpg"))
    small = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    cv2.imwrite(str(tmp_path / "tray.jpg"), small)
    return tmp_path / "tray.jpg"


@pytest.fixture
def mine(demo_stock: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(demo_stock, tmp_path / "mine.csv"))


@pytest.fixture
def names(tmp_path: Path) -> Path:
    file = tmp_path / "names.txt"
    file.write_text(NAMES, encoding="utf-8")
    return file


def test_a_tray_goes_into_the_list_and_its_beads_are_used(
    analyser: Callable, mine: Path, names: Path, samples: Path, tmp_path: Path
) -> None:
    photos = tmp_path / "photos"
    photos.mkdir()
    tray = Path(shutil.copy(samples / "tray-of-beads.jpg", photos / "tray.jpg"))
    before = stock_list.read(mine)
    photo = tray.read_bytes()
    answer = analyser(
        "stock", "add", tray, "--into", mine, "--names", names, "--size", "11/0", "--json", "-"
    ).answer("stock add")
    assert len(answer["piles"]) == len(answer["stock"]["added"]) == 12
    after = stock_list.read(mine)
    assert [b.id for b in after.beads[: len(before.beads)]] == [b.id for b in before.beads]
    assert Path(answer["stock"]["backup"]).read_bytes() != mine.read_bytes()
    for pile, bead in zip(answer["piles"], after.beads[-12:], strict=True):
        assert bead.size == "11/0"
        assert bead.lab == pytest.approx(pile["lab"], abs=0.6)  # eight-bit hex in the list
    assert tray.read_bytes() == photo
    assert [path.name for path in photos.iterdir()] == ["tray.jpg"]  # nothing beside the photo
    assert Path(answer["picture"]) == mine.with_name("tray-piles.png")
    assert mine.with_name("tray-piles.png").read_bytes().startswith(b"\x89PNG")

    only_new = tmp_path / "new.csv"
    heading = next(line for line in mine.read_text("utf-8").splitlines() if line.startswith("id,"))
    rows = mine.read_text("utf-8").splitlines()[-12:]
    only_new.write_text("\n".join([heading, *rows]) + "\n", encoding="utf-8")
    told = analyser("colourway", samples / "outfit-scarf.jpg", "--stock", only_new, "--json", "-").answer(
        "colourway"
    )
    used = {bead["id"] for match in told["matches"] for bead in match["beads"]}
    assert "new-coral" in used or "new-navy" in used
    assert used <= set(answer["stock"]["added"])


def test_without_a_list_the_colours_are_told(analyser: Callable, tray: Path, tmp_path: Path) -> None:
    ended = analyser("stock", "add", tray, "--out", tmp_path / "pictures")
    assert ended.code == 0, ended.err
    assert ended.out.count("±") == 12
    assert "metallic" in ended.out
    assert (tmp_path / "pictures" / "tray-piles.png").exists()
    assert not (tmp_path / "tray-piles.png").exists()
    before = sorted(tmp_path.iterdir())
    told = analyser("stock", "add", tray, "--json", "-").answer("stock add")
    assert told["picture"] is None
    assert sorted(tmp_path.iterdir()) == before


def test_a_list_that_is_new_is_begun(analyser: Callable, tray: Path, names: Path, tmp_path: Path) -> None:
    ended = analyser("stock", "add", tray, "--into", tmp_path / "fresh.csv", "--names", names)
    assert ended.code == 0, ended.err
    assert len(stock_list.read(tmp_path / "fresh.csv").beads) == 12


def test_wrong_names_write_nothing(analyser: Callable, tray: Path, mine: Path, names: Path) -> None:
    before = mine.read_bytes()
    names.write_text(NAMES.rpartition("\n")[0], encoding="utf-8")
    ended = analyser("stock", "add", tray, "--into", mine, "--names", names)
    assert ended.code == 2
    assert "names 11 piles, the photo shows 12" in ended.err
    assert len(ended.err.strip().splitlines()) == 1
    assert mine.read_bytes() == before


def test_a_bead_that_is_there_is_changed_only_on_request(
    analyser: Callable, tray: Path, mine: Path, names: Path
) -> None:
    names.write_text("chalk-cliff\n" + "-\n" * 11, encoding="utf-8")
    before, old = mine.read_bytes(), stock_list.read(mine).beads[0]
    names.write_text("chalk-cliff;;1\n" + "-\n" * 11, encoding="utf-8")
    ended = analyser("stock", "add", tray, "--into", mine, "--names", names)
    assert ended.code == 2
    assert "'chalk-cliff' is in" in ended.err
    assert mine.read_bytes() == before
    answer = analyser(
        "stock", "add", tray, "--into", mine, "--names", names, "--replace-colour", "--json", "-"
    ).answer("stock add")
    assert answer["stock"]["replaced"] == ["chalk-cliff"]
    new = stock_list.read(mine).beads[0]
    assert new.lab == pytest.approx(answer["piles"][0]["lab"], abs=0.6)
    assert "#e6e3dc" in new.notes
    assert (new.name, new.quantity) == (old.name, old.quantity)


def test_without_names_and_terminal_it_says_what_to_give(analyser: Callable, tray: Path, mine: Path) -> None:
    ended = analyser("stock", "add", tray, "--into", mine)
    assert ended.code == 2
    assert "--names FILE" in ended.err


def test_a_photo_without_piles_is_told_in_one_line(analyser: Callable, samples: Path, tmp_path: Path) -> None:
    empty = tmp_path / "empty.png"
    cv2.imwrite(str(empty), np.full((600, 900, 3), 190, np.uint8))
    ended = analyser("stock", "add", empty)
    assert ended.code == 2
    assert "no piles of beads were found" in ended.err
    assert len(ended.err.strip().splitlines()) == 1


def test_two_trays_at_once_lose_no_row(
    script: str, tray: Path, mine: Path, names: Path, tmp_path: Path
) -> None:
    before = len(stock_list.read(mine).beads)
    other = tmp_path / "other.txt"
    other.write_text(NAMES.replace("new-", "other-"), encoding="utf-8")
    running = [
        subprocess.Popen(
            [script, "stock", "add", tray, "--into", mine, "--names", file, "--quiet"],
            stdout=subprocess.DEVNULL,
            cwd=tmp_path,
        )
        for file in (names, other)
    ]
    assert [process.wait(timeout=120) for process in running] == [0, 0]
    assert len(stock_list.read(mine).beads) == before + 24


@pytest.mark.skipif(os.name != "posix", reason="a process is killed by a POSIX signal")
def test_a_killed_process_leaves_the_old_list_or_the_new(
    script: str, tray: Path, mine: Path, names: Path, tmp_path: Path
) -> None:
    before = len(stock_list.read(mine).beads)
    old = mine.read_bytes()
    process = subprocess.Popen(
        [script, "stock", "add", tray, "--into", mine, "--names", names],
        stdout=subprocess.DEVNULL,
        cwd=tmp_path,
    )
    deadline = time.monotonic() + 100
    # writing begins with a file beside the list or with the list itself: kill at the first sign of it
    while process.poll() is None and time.monotonic() < deadline:
        beside = {path.name for path in tmp_path.iterdir()} - {"tray.jpg", "names.txt", "mine.csv"}
        if any("mine" in name for name in beside) or mine.read_bytes() != old:
            process.send_signal(signal.SIGKILL)
            break
        time.sleep(0.0005)
    process.wait(timeout=30)
    assert len(stock_list.read(mine).beads) in (before, before + 12)


TUBES = """Id;Name;Size;Colour;Hex;Grams;Lot
t1;Navy;11/0;navy blue;;12;A
t2;Shell;11/0;cream;;8;B
t3;Lagoon;8/0;teal;#123456;5;C
t3;Lagoon;8/0;teal;;9;D
t4;Sunset;11/0;coral;n.m.;3;
"""


def test_heaps_are_tubes_of_the_list_and_only_their_colour_changes(
    analyser: Callable, tray: Path, tmp_path: Path
) -> None:
    """The sample's first four heaps are navy, cream, teal and coral (its names file says so)."""
    mine = tmp_path / "tubes.csv"
    mine.write_text(TUBES, encoding="utf-8")
    names = tmp_path / "names.txt"
    names.write_text("t1\nt2\nt3\nt4\n" + "-\n" * 8, encoding="utf-8")
    ended = analyser("stock", "add", tray, "--into", mine, "--fill", "--names", names, "--json", "-")
    answer = ended.answer("stock add")
    assert "no column 'uncertainty': it is added" in ended.err
    assert answer["stock"]["filled"] == ["t1", "t2", "t3", "t4"]
    assert answer["stock"]["added"] == answer["stock"]["replaced"] == []
    assert answer["stock"]["columns"] == ["uncertainty", "notes"]
    lines = [line.split(";") for line in mine.read_text(encoding="utf-8").splitlines()]
    was = [line.split(";") for line in TUBES.splitlines()]
    for new, old in zip(lines[1:], was[1:], strict=True):
        assert new[:4] + new[5:7] == old[:4] + old[5:7]
    assert lines[3] == was[3]  # the lot that has a colour keeps it: the other one was meant
    for pile, bead in zip(
        answer["piles"], [b for b in stock_list.read(mine).beads if b.row != 4], strict=False
    ):
        assert bead.lab == pytest.approx(pile["lab"], abs=0.6)
        assert bead.uncertainty_de00 == pytest.approx(pile["uncertainty_de00"], abs=0.01)
    assert "n.m." in lines[5][8]  # what stood in the cell is kept

    names.write_text("t3;;C\n" + "-\n" * 11, encoding="utf-8")
    refused = analyser("stock", "add", tray, "--into", mine, "--fill", "--names", names)
    assert refused.code == 2
    assert "has a colour" in refused.err
    told = analyser(
        "stock", "add", tray, "--into", mine, "--fill", "--names", names, "--replace-colour", "--json", "-"
    ).answer("stock add")
    assert told["stock"]["replaced"] == ["t3"]
    assert "#123456" in stock_list.read(mine).beads[2].notes


def test_a_second_row_of_one_id_is_not_made_by_accident(
    analyser: Callable, tray: Path, tmp_path: Path
) -> None:
    mine = tmp_path / "tubes.csv"
    mine.write_text(TUBES, encoding="utf-8")
    names = tmp_path / "names.txt"
    names.write_text("t1;Navy;Z\n" + "-\n" * 11, encoding="utf-8")
    before = mine.read_bytes()
    refused = analyser("stock", "add", tray, "--into", mine, "--names", names)
    assert refused.code == 2
    assert "'t1' is in" in refused.err
    assert "--fill fills its colour, --another-lot adds a row" in refused.err
    assert mine.read_bytes() == before
    told = analyser(
        "stock", "add", tray, "--into", mine, "--names", names, "--another-lot", "--json", "-"
    ).answer("stock add")
    assert told["stock"]["added"] == ["t1"]
    assert [bead.lot for bead in stock_list.read(mine).beads if bead.id == "t1"] == ["A", "Z"]
