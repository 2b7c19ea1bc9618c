"""Many photos in one command: resumed, with bad ones among them, on a cluster; always the same answers."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import time

import pytest
from distributed import LocalCluster
from PIL import Image

WAYS = ("--calibration", "none", "--colours", "3")


@pytest.fixture
def photos(tmp_path, samples):
    folder = tmp_path / "photos"
    folder.mkdir()
    with Image.open(samples / "outfit-scarf.jpg") as whole:
        for number in range(4):
            part = whole.crop((100 * number, 50 * number, 100 * number + 400, 50 * number + 400))
            part.save(folder / f"part-{number}.png")
    (folder / "broken.jpg").write_bytes(b"no photo")
    return folder


def answers(folder):
    return {path.name: path.read_bytes() for path in (folder / "answers").rglob("*.json")}


def test_a_bad_photo_stops_nothing_and_what_is_done_is_not_done_again(analyser, photos, tmp_path):
    first = analyser(
        "batch", photos, "palette", *WAYS, "--workers", "1", "--out", "one", "--json", "-"
    ).answer("batch")
    assert (first["photos"], first["done"], first["worked_on"]) == (5, 4, 5)
    assert [one["kind"] for one in first["failed"]] == ["photo"]
    again = analyser(
        "batch", photos, "palette", *WAYS, "--workers", "2", "--out", "one", "--json", "-"
    ).answer("batch")
    assert (again["done"], again["worked_on"]) == (4, 0)
    # The answer is that of the verb, and the same from two workers as from one.
    alone = analyser("palette", photos / "part-0.png", *WAYS, "--json", "-").answer("palette")
    kept = [json.loads(text) for text in answers(tmp_path / "one").values()]
    assert [one["answer"] for one in kept if one["file"] == "part-0.png"] == [alone]
    analyser("batch", photos, "palette", *WAYS, "--workers", "2", "--out", "two")
    assert answers(tmp_path / "two") == answers(tmp_path / "one")


def test_a_killed_batch_goes_on_where_it_was(analyser, script, photos, tmp_path):
    for number in range(40):
        shutil.copy(photos / "part-0.png", photos / f"more-{number}.png")
    typed = ["batch", str(photos), "palette", *WAYS, "--workers", "2", "--out", "out"]
    with subprocess.Popen([script, *typed], cwd=tmp_path, start_new_session=True) as running:
        deadline = time.monotonic() + 120
        while len(list((tmp_path / "out").rglob("*.json"))) < 5 and time.monotonic() < deadline:
            time.sleep(0.02)
        os.killpg(running.pid, signal.SIGKILL)
    done = len(answers(tmp_path / "out"))
    ended = analyser(*typed, "--json", "-").answer("batch")
    assert ended["done"] == 44
    assert done >= 5
    assert ended["worked_on"] == 45 - done


def test_a_cluster_gives_the_same_answers(analyser, photos, tmp_path):
    analyser("batch", photos, "palette", *WAYS, "--workers", "1", "--out", "here")
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        there = analyser(
            "batch", photos, "palette", *WAYS, "--cluster", cluster.scheduler_address, "--out", "there"
        )
    assert there.code == 0, there.err
    assert answers(tmp_path / "there") == answers(tmp_path / "here")


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (("photos",), "expected analyser batch FOLDER|PHOTO"),
        (("gone", "palette"), "there is no such photo or folder"),
        (("photos", "palette", "--colour", "3"), "No such option"),
        (("photos", "palette", "--corrected", "x.png"), "--corrected is for one photo"),
        (("photos", "--colours", "3", "palette"), "come after the word palette"),
        (("photos", "colourway", "--stock", "none.csv"), "none.csv"),
    ],
)
def test_what_cannot_be_done_is_told_at_once(analyser, photos, typed, says):
    ended = analyser("batch", *typed)
    assert ended.code == 2
    assert says in ended.err
    assert len(ended.err.strip().splitlines()) == 1
