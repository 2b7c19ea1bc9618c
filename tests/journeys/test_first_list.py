"""A maker's own spreadsheet for the first time: what it leaves open is asked once, on a terminal only."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

LIST = "id,size,hex,quantity\na,Nov 00,#102030,12\nb,8/0,#405060,7\n,,#102030,5 g\n"


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    path = tmp_path / "mine.csv"
    path.write_text(LIST, encoding="utf-8")
    return path


def test_without_a_terminal_the_safe_reading_is_taken_and_said(analyser: Callable, mine: Path) -> None:
    ended = analyser("match", "#102030", "--stock", mine, "--verbose")
    assert ended.code == 0, ended.err
    assert "2 rows used" in ended.out
    assert "1 left out" in ended.out
    assert "2 amounts stand without a unit: how much there is is not known" in ended.out
    assert "--take unit=grams" in ended.out
    assert not (mine.parent / "analyser.toml").exists()
    assert analyser("match", "#102030", "--stock", mine, "--refuse-faulty").code == 2


def test_answers_given_as_options_are_kept_and_shown(analyser: Callable, mine: Path) -> None:
    first = analyser("stock", "check", mine, "--take", "unit=grams", "--take", "dates=sizes", "--json", "-")
    assert first.code == 2  # the row without name and id
    again = analyser("stock", "check", mine)
    assert "as you said: numbers without a unit are grams" in again.out
    assert "left out" in again.out
    ended = analyser(
        "count", "--stock", mine, "--accent", "a", "--body", "b", "--length", "5cm", "--json", "-"
    )
    assert ended.answer("count")["stock"]["accent"]["have"] == 1200  # 12 g of at least 100 beads to the gram
    refused = analyser("stock", "check", mine, "--take", "unit=furlongs")
    assert refused.code == 2
    assert "unit is one of grams" in refused.err
    assert analyser("stock", "check", mine.with_name("none.csv"), "--take", "unit=grams").code == 2


@pytest.mark.skipif(sys.platform == "win32", reason="a terminal is made by a POSIX pseudo-terminal")
def test_on_a_terminal_it_is_asked_once(script: str, mine: Path, tmp_path: Path) -> None:
    def run() -> str:
        import pty

        ours, theirs = pty.openpty()
        os.write(ours, b"beads\ny\n")
        folders = {"XDG_CONFIG_HOME": str(tmp_path / "config"), "XDG_DATA_HOME": str(tmp_path / "data")}
        done = subprocess.run(
            [script, "match", "#102030", "--stock", mine],
            stdin=theirs,
            stderr=theirs,
            stdout=subprocess.PIPE,
            cwd=tmp_path,
            timeout=100,
            check=True,
            env={**os.environ, **folders},
        )
        assert done.stdout
        os.close(theirs)
        said = b""
        while True:
            try:
                more = os.read(ours, 65536)
            except OSError:  # the other end is closed and all is read
                break
            if not more:
                break
            said += more
        os.close(ours)
        return said.decode()

    asked = run()
    assert "2 amounts stand without a unit (12, 7). What do these numbers count?" in asked
    assert "Nov 00 → 11/0" in asked
    assert "kept in" in asked
    text = (mine.parent / "analyser.toml").read_text(encoding="utf-8")
    assert text == '[list."mine.csv"]\nunit = "beads"\ndates = "sizes"\n'
    assert "What do these numbers count" not in run()
