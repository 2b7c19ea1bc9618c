"""What the page keeps between runs: photos, wishes and answers, for 30 days, for this user alone."""

from __future__ import annotations

import dataclasses
import time
from types import SimpleNamespace

import pytest

from analyser.web.archive import DAYS, Archive, KeptPhoto
from analyser.web.photo_store import PHOTOS_AT_MOST, PhotoStore
from analyser.web.workers import Job


def photo(number, **changed):
    fields = {
        "id": f"id{number}", "use": "colourway", "name": "scarf.jpg", "wishes": {"length": "18cm"},
        "state": "done", "kind": "", "says": "", "result": {"answer": {"lab": [1.5, 2.0, 3.0]}, "shown": {}},
        "added": time.time() - 1000 + number,
    }  # fmt: skip
    return KeptPhoto(**{**fields, **changed})


@pytest.fixture
def archive(tmp_path):
    return Archive(tmp_path / "page", tmp_path / "stock.csv")


def put(archive, kept):
    (archive.folder / kept.id).mkdir()
    (archive.folder / kept.id / kept.name).write_bytes(b"photo")
    archive.keep(kept)


def again(archive, tmp_path):
    return Archive(archive.folder, tmp_path / "stock.csv")


def test_what_was_kept_comes_back_as_it_was(archive, tmp_path):
    first, second = photo(1), photo(2, state="failed", kind="photo", says="is no photo", result=None)
    put(archive, second)
    put(archive, first)
    assert again(archive, tmp_path).photos() == [first, second]


def test_another_list_has_its_own_photos(archive, tmp_path):
    put(archive, photo(1))
    assert Archive(archive.folder, tmp_path / "other.csv").photos() == []
    assert again(archive, tmp_path).photos() == [photo(1, added=again(archive, tmp_path).photos()[0].added)]


def test_only_this_user_can_read_it(archive):
    assert archive.folder.stat().st_mode & 0o077 == 0


def test_what_is_older_than_30_days_goes(archive, tmp_path):
    put(archive, photo(1, added=time.time() - DAYS * 86400 - 60))
    put(archive, photo(2, added=time.time() - DAYS * 86400 + 60))
    assert [one.id for one in again(archive, tmp_path).photos()] == ["id2"]


def test_a_photo_whose_file_is_gone_is_not_shown(archive, tmp_path):
    archive.keep(photo(1))
    assert again(archive, tmp_path).photos() == []


def test_a_damaged_file_is_put_aside_and_the_page_goes_on(archive, tmp_path):
    put(archive, photo(1))
    file = archive.folder / "photos.sqlite"
    file.write_bytes(b"no database" * 1000)
    fresh = again(archive, tmp_path)
    assert fresh.photos() == []
    fresh.keep(photo(2))
    (aside,) = archive.folder.glob("*.aside")
    assert aside.read_bytes().startswith(b"no database")


def test_clearing_leaves_nothing(archive, tmp_path):
    put(archive, photo(1))
    Archive(archive.folder, tmp_path / "other.csv").clear()
    assert archive.photos() == []
    assert [path.name for path in archive.folder.iterdir()] == ["photos.sqlite"]


def test_a_restart_shows_the_answer_and_what_was_under_way_can_begin_again(archive, tmp_path):
    put(archive, photo(1))
    put(archive, photo(2, state="waiting", result=None))
    store = PhotoStore(None, tmp_path / "stock.csv", again(archive, tmp_path))
    done, stopped = store.get("id1"), store.get("id2")
    assert (done.state, done.result, done.wishes) == ("done", photo(1).result, {"length": "18cm"})
    assert stopped.state == "cancelled"
    assert done.path.read_bytes() == b"photo"


def test_photos_of_earlier_runs_give_way_to_new_ones_the_oldest_first(archive, tmp_path):
    for number in range(PHOTOS_AT_MOST):
        put(archive, photo(number))
    store = PhotoStore(None, tmp_path / "stock.csv", again(archive, tmp_path))
    store.place("new.jpg")
    left = {entry.id for entry in store.all()}
    assert len(left) == PHOTOS_AT_MOST - 1
    assert "id0" not in left
    assert not (archive.folder / "id0").exists()


def test_forgetting_one_forgets_it_for_good(archive, tmp_path):
    put(archive, photo(1))
    store = PhotoStore(None, tmp_path / "stock.csv", archive)
    store.forget(store.get("id1"))
    assert again(archive, tmp_path).photos() == []
    assert not (archive.folder / "id1").exists()


def test_a_kept_photo_holds_plain_values_only():
    assert {field.name for field in dataclasses.fields(KeptPhoto)} >= {"wishes", "result", "added"}


def test_an_answer_is_kept_before_it_is_told(archive, tmp_path, monkeypatch):
    job = Job("colourway", {}, lambda _stage, _partial: None)
    store = PhotoStore(SimpleNamespace(submit=lambda *_, **__: job), tmp_path / "stock.csv", archive)
    path = store.place("scarf.jpg")
    path.write_bytes(b"photo")
    entry = store.add(path, "colourway", {})
    told, keep = [], archive.keep
    monkeypatch.setattr(archive, "keep", lambda kept: (told.append((kept.state, entry.state)), keep(kept)))
    job.future.set_result({"answer": 1})
    assert told == [("done", "waiting")]
    assert entry.state == "done"
    assert [(one.state, one.result) for one in archive.photos()] == [("done", {"answer": 1})]
