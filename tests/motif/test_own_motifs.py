"""A maker's own motifs beside the list: saved, found, replaced only on purpose."""

from __future__ import annotations

import pytest

from analyser.errors import MotifError
from analyser.motif import own_motifs, parsing

TEXT = parsing.shipped_text("chenille").replace('name = "chenille"', 'name = "my-rope"')


@pytest.fixture
def folder(tmp_path):
    return own_motifs.folder_of(tmp_path / "beads.csv")


def test_one_is_saved_and_found_by_its_name(folder):
    assert own_motifs.names(folder) == ()
    assert own_motifs.save(folder, TEXT).name == "my-rope"
    assert own_motifs.names(folder) == ("my-rope",)
    assert own_motifs.text_of("my-rope", folder) == TEXT
    mine, shipped = own_motifs.load("my-rope", folder), own_motifs.load("chenille", folder)
    assert mine.counts(50) == shipped.counts(50)
    assert folder.name == "beads-motifs" == own_motifs.beside(folder.with_name("beads-kept")).name


def test_one_is_replaced_only_on_purpose_and_lies_in_the_bin_then(folder):
    own_motifs.save(folder, TEXT)
    own_motifs.save(folder, TEXT)  # the same again changes nothing
    other = TEXT.replace("says = ", 'says = "mine" # ', 1)
    with pytest.raises(MotifError, match="there already"):
        own_motifs.save(folder, other)
    assert own_motifs.text_of("my-rope", folder) == TEXT
    own_motifs.save(folder, other, replace=True)
    assert own_motifs.text_of("my-rope", folder) == other
    assert (folder / "bin" / "my-rope.toml").read_text(encoding="utf-8") == TEXT


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("chenille", "shipped"),
        ("../up", "the file is called so"),
        ("a b", "called so"),
        ("x" * 61, "at most 60"),
    ],
)
def test_a_name_that_is_no_files_name_or_taken_is_refused(folder, name, says):
    with pytest.raises(MotifError, match=says):
        own_motifs.save(folder, TEXT.replace("my-rope", name))
    assert not folder.exists()


def test_a_fault_is_told_with_its_line(folder):
    with pytest.raises(MotifError, match=r"your motif, line \d+"):
        own_motifs.save(folder, TEXT.replace("columns = ", "colums = "))
    with pytest.raises(MotifError, match="there is no motif 'nothing'"):
        own_motifs.load("nothing", folder)
    with pytest.raises(MotifError, match="no motif"):
        own_motifs.load("../beads", folder)
