"""Work shared among processes: each outcome once, whatever becomes of a process."""

from __future__ import annotations

import pytest

from analyser.batch.running import Task, run
from analyser.errors import OptionError
from tests.batch import ending


def tasks(tmp_path, *paths):
    return [Task(f"key-{number}", str(tmp_path), path, "palette", ()) for number, path in enumerate(paths)]


def test_each_photo_comes_to_one_outcome(tmp_path):
    wanted = tasks(tmp_path, *(f"{number}.jpg" for number in range(12)))
    found = list(run(iter(wanted), ending.work, 2))
    assert sorted(one.key for one in found) == sorted(one.key for one in wanted)
    assert {one.state for one in found} == {"done"}


def test_a_photo_that_ends_its_process_is_told_and_the_others_go_on(tmp_path):
    wanted = tasks(tmp_path, "a.jpg", "deadly.jpg", *(f"{number}.jpg" for number in range(6)))
    found = {one.file: one for one in run(iter(wanted), ending.work, 2)}
    assert len(found) == len(wanted)
    assert [one.file for one in found.values() if one.state == "failed"] == ["deadly.jpg"]
    assert found["deadly.jpg"].kind == "ended"


def test_a_cluster_that_is_not_there_is_told(tmp_path):
    with pytest.raises(OptionError, match="nowhere: cannot be reached"):
        list(run(tasks(tmp_path, "a.jpg"), ending.work, 1, "nowhere"))
