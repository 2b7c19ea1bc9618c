"""Files written whole or not at all; pipes and devices written to; one writer at a time.

Common practice, no source: POSIX rename(2) replaces a name in one step; fsync(2) before it.
"""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from analyser import files
from analyser.errors import AnalyserError, OptionError, StockError
from analyser.files import read_whole
from analyser.motif import parsing
from analyser.piece import plan_file

POSIX = pytest.mark.skipif(os.name == "nt", reason="pipes and permissions of POSIX systems")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_file_is_written_and_replaced(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    files.write_whole(path, "id\r\nsea\r\n")
    assert path.read_bytes() == b"id\r\nsea\r\n"
    files.write_whole(path, b"\x00\xff")
    assert path.read_bytes() == b"\x00\xff"
    assert names(tmp_path) == ["list.csv"]


@POSIX
def test_permissions_stay_and_links_are_followed(tmp_path: Path) -> None:
    path, link = tmp_path / "real.csv", tmp_path / "link.csv"
    path.write_text("old")
    path.chmod(0o640)
    link.symlink_to(path)
    files.write_whole(link, "new")
    assert link.is_symlink()
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    fresh = tmp_path / "fresh.csv"
    files.write_whole(fresh, "")
    plain = tmp_path / "plain.csv"
    plain.touch()
    assert fresh.stat().st_mode == plain.stat().st_mode


@POSIX
def test_devices_and_pipes_are_written_to_and_stay(tmp_path: Path) -> None:
    files.write_whole(Path("/dev/null"), "gone")
    assert stat.S_ISCHR(Path("/dev/null").stat().st_mode)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()))
    reader.start()
    files.write_whole(pipe, "told")
    reader.join(10)
    assert read == [b"told"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert names(tmp_path) == ["pipe"]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="a device that is always full")
def test_a_full_device_is_told() -> None:
    with pytest.raises(OptionError, match=r"/dev/full: cannot be written .*No space left"):
        files.write_whole(Path("/dev/full"), "x")


def test_what_fails_leaves_the_old_file_and_nothing_beside(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "list.csv"
    path.write_text("old")

    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StockError, match=r"No space left on device\); name another place"):
        files.write_whole(path, "new", error=StockError)
    assert path.read_text() == "old"
    assert names(tmp_path) == ["list.csv"]


def test_a_folder_or_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(OptionError, match="it is a folder"):
        files.write_whole(tmp_path, "x")
    with pytest.raises(OptionError, match="cannot be written"):
        files.write_whole(tmp_path / "none" / "x.csv", "x")
    files.write_whole(tmp_path / "some" / "deep" / "x.csv", "x", make_folders=True)
    assert (tmp_path / "some" / "deep" / "x.csv").read_text() == "x"


def test_what_can_be_written_is_told_beforehand(tmp_path: Path) -> None:
    assert files.can_be_written(tmp_path / "new.json")
    assert not files.can_be_written(tmp_path)
    assert not files.can_be_written(tmp_path / "none" / "new.json")
    assert files.can_be_written(Path(os.devnull))


HOLD = """
import sys, time
from pathlib import Path
from analyser import files
with files.lock(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


@POSIX
def test_a_lock_waits_is_told_and_goes_with_its_process(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    other = subprocess.Popen([sys.executable, "-c", HOLD, path], stdout=subprocess.PIPE)
    assert other.stdout is not None
    assert other.stdout.readline() == b"held\n"
    with (
        pytest.raises(StockError, match="is being written by another program"),
        files.lock(path, wait_s=0.2, error=StockError),
    ):
        pytest.fail("two writers at once")
    other.kill()
    other.wait()
    other.stdout.close()
    start = time.monotonic()
    with files.lock(path, wait_s=10):
        assert time.monotonic() - start < 5
    assert names(tmp_path) == []


@POSIX
def test_a_lock_in_a_missing_folder_is_told(tmp_path: Path) -> None:
    path = tmp_path / "none" / "x.csv"
    with pytest.raises(OptionError, match="cannot be written"), files.lock(path, wait_s=0.1):
        pytest.fail("no folder to hold it in")


def test_what_the_maker_named_is_read_whole_or_told_in_one_line(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_bytes(b"12345")
    assert read_whole(file, 5, "a motif") == b"12345"
    with pytest.raises(OptionError, match="too long for a motif"):
        read_whole(file, 4, "a motif")
    with pytest.raises(OptionError, match="cannot be read: there is no such file"):
        read_whole(tmp_path / "none.toml", 5, "a motif")
    with pytest.raises(OptionError, match="is a folder; name the file in it"):
        read_whole(tmp_path, 5, "a motif")
    with pytest.raises(OptionError, match="cannot be read"):
        read_whole(Path("a\0b"), 5, "a motif")


@POSIX
def test_a_pipe_or_a_device_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    for named in (tmp_path / "pipe.toml", Path("/dev/zero")):
        with pytest.raises(OptionError, match="is a pipe or a device, not a file"):
            read_whole(named, 5, "a motif")


@pytest.mark.parametrize("read", [parsing.load, plan_file.load])
def test_brackets_without_end_are_told(tmp_path, read):
    file = tmp_path / "deep.toml"
    file.write_text("a = " + "[" * 20_000)
    with pytest.raises(AnalyserError, match="brackets"):
        read(file)


def test_what_killed_writers_left_is_cleared_by_the_next(tmp_path: Path) -> None:
    path, mine = tmp_path / "a.toml", tmp_path / ".a.toml.notes.part"
    dead, at_work = tmp_path / ".a.toml.4711.part", tmp_path / ".a.toml.4712.part"
    for part in (mine, dead, at_work):
        part.write_text("half")
    os.utime(dead, (time.time() - 600,) * 2)
    files.write_whole(path, "new")
    assert names(tmp_path) == [".a.toml.4712.part", ".a.toml.notes.part", "a.toml"]
    with files.lock(path):  # nobody else can be writing now
        assert not at_work.exists()
    assert names(tmp_path) == [".a.toml.notes.part", "a.toml"]
