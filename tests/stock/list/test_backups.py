"""Backups: never a moment without the newest; undo is a true swap, and what is broken off is finished.

Common practice, no source.
"""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path

import pytest

from analyser.errors import StockError
from analyser.stock.list import backups, writing


def versions(path: Path) -> list[str]:
    """The list and its backups, newest first."""
    found = [path, *(backups.backup_of(path, age) for age in range(1, backups.KEPT + 2))]
    return [one.read_text() for one in found if one.exists()]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    path = tmp_path / "stock.csv"
    path.write_text("0")
    for number in range(1, 8):
        backups.replace(path, str(number).encode())
    return path


def test_the_last_five_are_kept_in_order(path: Path) -> None:
    assert versions(path) == ["7", "6", "5", "4", "3", "2"]
    assert len(list(path.parent.iterdir())) == 6


def test_undo_is_a_true_swap(path: Path) -> None:
    for _ in range(5):
        backups.swap(path)
        assert versions(path) == ["6", "7", "5", "4", "3", "2"]
        backups.swap(path)
        assert versions(path) == ["7", "6", "5", "4", "3", "2"]


def test_several_steps_are_taken_back_and_come_again(path: Path) -> None:
    writing.restore(path, 3)
    assert versions(path)[:3] == ["4", "7", "6"]
    writing.restore(path)
    assert versions(path)[0] == "7"
    backups.backup_of(path, 4).unlink()
    backups.backup_of(path, 5).unlink()
    with pytest.raises(StockError, match="has 3 backups beside it, not 5"):
        writing.restore(path, 5)


@pytest.mark.parametrize("job", [lambda path: backups.replace(path, b"8"), backups.swap])
@pytest.mark.parametrize("step", ["replace", "fsync", "link"])
@pytest.mark.parametrize("when", range(1, 9))
def test_broken_off_anywhere_list_and_backup_are_whole(path, monkeypatch, job, step, when) -> None:
    """Stopped at any step as a kill would: the newest backup is there, and undo finds an earlier version."""
    seen = 0
    whole = getattr(os, step)

    def stop(*given, **more):
        nonlocal seen
        seen += 1
        if seen == when:
            raise KeyboardInterrupt
        return whole(*given, **more)

    monkeypatch.setattr(os, step, stop)
    with contextlib.suppress(KeyboardInterrupt):
        job(path)
    monkeypatch.setattr(os, step, whole)
    now = path.read_text()
    assert now in "678"
    assert backups.backup_of(path).read_text() in "67"
    backups.swap(path)
    assert path.read_text() in {"7": "6", "8": "7", "6": "7"}[now] + "7"
    assert backups.backup_of(path).read_text() == now


def test_a_full_disk_shifts_nothing_and_leaves_no_part(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    for job in (lambda: backups.replace(path, b"8"), lambda: backups.swap(path)):
        with pytest.raises(StockError, match="No space left"):
            job()
        assert versions(path) == ["7", "6", "5", "4", "3", "2"]
        assert len(list(path.parent.iterdir())) == 6


@pytest.mark.parametrize("number", [errno.EROFS, errno.EACCES, errno.EIO, errno.EDQUOT])
@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_disk_that_takes_nothing_is_told_and_nothing_is_changed(path, monkeypatch, number, step) -> None:
    """Read-only, not allowed, failing, or over its quota, from the first step or at the last."""
    whole = getattr(os, step)

    def refuse(*_given, **_more):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, step, refuse)
    for job in (lambda: backups.replace(path, b"8"), lambda: backups.swap(path)):
        with pytest.raises(StockError, match=os.strerror(number)):
            job()
    monkeypatch.setattr(os, step, whole)
    assert versions(path) == ["7", "6", "5", "4", "3", "2"]
    backups.replace(path, b"8")
    assert versions(path) == ["8", "7", "6", "5", "4", "3"]
    assert len(list(path.parent.iterdir())) == 6


def test_without_a_backup_there_is_nothing_to_undo(tmp_path: Path) -> None:
    (tmp_path / "stock.csv").write_text("0")
    with pytest.raises(StockError, match=r"has no backup stock\.csv\.bak beside it"):
        backups.swap(tmp_path / "stock.csv")


def test_what_killed_writers_left_is_cleared_by_the_next(path: Path) -> None:
    for name in (".stock.csv.4711.new", ".stock.csv.bak.4711.new", ".stock.csv.bak2.new"):
        path.with_name(name).write_text("half")
    backups.replace(path, b"8")
    assert versions(path) == ["8", "7", "6", "5", "4", "3"]
    assert len(list(path.parent.iterdir())) == 6


def test_a_clock_that_was_put_back_changes_nothing(path: Path) -> None:
    for one in path.parent.iterdir():
        os.utime(one, (4e9, 4e9))
    backups.replace(path, b"8")
    assert versions(path) == ["8", "7", "6", "5", "4", "3"]
    backups.swap(path)
    assert versions(path) == ["7", "8", "6", "5", "4", "3"]
