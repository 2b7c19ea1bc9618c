"""Which photos a batch takes, and by what it knows them."""

from __future__ import annotations

import hashlib

import pytest

from analyser.batch.photos import digest_of, photos_in
from analyser.errors import OptionError


def test_folders_are_gone_through_in_one_order_and_each_photo_comes_once(tmp_path):
    for name in ("b/2.JPG", "b/10.heic", "a.png", ".hidden/x.jpg", "b/notes.txt", "b/.y.jpg"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    (tmp_path / "up").symlink_to(tmp_path)
    found = photos_in([tmp_path, tmp_path / "b" / "2.JPG", tmp_path / "b"])
    assert [str(path.relative_to(tmp_path)) for path in found] == ["a.png", "b/10.heic", "b/2.JPG"]


def test_a_file_that_is_named_needs_no_ending(tmp_path):
    (tmp_path / "scan").write_bytes(b"x")
    assert list(photos_in([tmp_path / "scan"])) == [tmp_path / "scan"]


def test_a_place_that_is_not_there_is_told(tmp_path):
    with pytest.raises(OptionError, match="there is no such photo or folder"):
        list(photos_in([tmp_path / "gone"]))


def test_digests_are_of_what_is_held(tmp_path):
    (tmp_path / "one").write_bytes(b"abc")
    (tmp_path / "two").write_bytes(b"abc")
    assert (
        digest_of(tmp_path / "one", "x")
        == digest_of(tmp_path / "two", "x")
        != digest_of(tmp_path / "one", "y")
    )
    # BLAKE2b of 16 bytes, RFC 7693, as hashlib has it; parts are parted by a zero byte.
    assert digest_of("abc") == hashlib.blake2b(b"abc\0", digest_size=16).hexdigest()
    assert digest_of("ab", "c") != digest_of("a", "bc")
