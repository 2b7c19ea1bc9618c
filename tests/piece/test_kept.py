"""Kept colourways: written and read back, never overwritten, deleted to a bin."""

from __future__ import annotations

import dataclasses
import datetime
import tomllib

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.motif.plan import even_fade
from analyser.piece import kept, plan_file
from analyser.piece.kept import KeptBead, KeptColour, KeptColourway, KeptError
from analyser.report import schemas

CORAL = KeptBead("coral-dusk", "Coral dusk", "14", "11/0", "round", "opaque", (60.0, 45.0, 30.5), 294)
TEAL = KeptBead("teal-deep", "Deep teal", "", "11/0", "round", None, (36.25, -12.0, -8.0), 542)
QUAY = KeptColourway(
    name="Quay bracelet", made_on=datetime.date(2026, 5, 4), motif="chenille", size="11/0", shape="round",
    length_mm=180.0, gauge="37 rounds in 50mm", beads={"accent": CORAL, "body": TEAL},
    palette=(KeptColour((52.0, 1.0, -3.0), 0.4, "grey"),), photo="scarf.jpg", sha256="ab" * 32,
    note="for \"M\"\nwith a matte clasp",
)  # fmt: skip


@pytest.fixture
def folder(tmp_path):
    return kept.folder_of(tmp_path / "beads.csv")


def test_it_is_read_as_it_was_kept(folder):
    path = kept.keep(folder, QUAY, b"picture")
    assert path.name == "quay-bracelet.toml"
    assert kept.read(path) == QUAY
    assert path.with_suffix(".jpg").read_bytes() == b"picture"
    assert {p.suffix for p in folder.iterdir()} == {".toml", ".jpg"}


PLAN = plan_file.text(even_fade("body", ["teal-deep", "coral-dusk"]))
FADE = dataclasses.replace(QUAY, beads={**QUAY.beads, "body:coral-dusk": CORAL}, plan=PLAN)


def test_a_plan_is_read_as_it_was_kept(folder):
    assert kept.read(kept.keep(folder, FADE, b"")) == FADE
    broken = folder / "quay-bracelet.toml"
    broken.write_text(broken.read_text(encoding="utf-8").replace("fade = true", "fade = 3"), encoding="utf-8")
    with pytest.raises(KeptError, match="fade is true or false, got 3"):
        kept.read(broken)


@pytest.mark.parametrize("one", [QUAY, FADE])
def test_the_file_fits_its_schema(folder, one):
    path = kept.keep(folder, one, b"")
    told = tomllib.loads(path.read_text(encoding="utf-8"))
    told["made_on"] = told["made_on"].isoformat()
    jsonschema.validate(told, schemas.load("kept colourway"))


text = st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=40)
number = st.floats(-200, 200)


@settings(max_examples=150, deadline=None)
@given(text, text, st.none() | st.floats(1, 1e5), st.none() | text, st.tuples(number, number, number))
def test_any_text_and_number_comes_back(tmp_path_factory, name, note, length, gauge, lab):
    folder = kept.folder_of(tmp_path_factory.mktemp("kept") / "beads.csv")
    bead = dataclasses.replace(CORAL, name=name, lab=lab, needs=None)
    one = dataclasses.replace(QUAY, note=note, length_mm=length, gauge=gauge, beads={"accent": bead})
    assert kept.read(kept.keep(folder, one, b"")) == one


def test_a_name_is_kept_once(folder):
    path = kept.keep(folder, QUAY, b"first")
    before = path.read_bytes()
    for name in ("Quay bracelet", "quay  BRACELET", "Quay-bracelet!"):
        with pytest.raises(KeptError, match="kept already"):
            kept.keep(folder, dataclasses.replace(QUAY, name=name, note="another"), b"second")
    assert path.read_bytes() == before
    assert path.with_suffix(".jpg").read_bytes() == b"first"


@pytest.mark.parametrize("name", ["", "  ", "../..", "///", "x" * 101])
def test_a_name_must_be_one(folder, name):
    with pytest.raises(KeptError, match="letters or digits"):
        kept.keep(folder, dataclasses.replace(QUAY, name=name), b"")
    assert not folder.exists()


def test_a_name_never_leaves_the_folder(folder):
    path = kept.keep(folder, dataclasses.replace(QUAY, name="../../etc/evil"), b"")
    assert path.parent == folder


@pytest.mark.parametrize("name", ["Перстень", "首飾 3", "Größe"])
def test_any_alphabet_makes_a_name(folder, name):
    path = kept.keep(folder, dataclasses.replace(QUAY, name=name), b"")
    assert kept.find(folder, name) == path


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (("schema = 1", "schema = 2"), "schema must be 1"),
        (('state = "idea"', 'state = "eaten"'), "state must be one of"),
        (("made_on = 2026-05-04", 'made_on = "May"'), "made_on must be a date"),
        (("length_mm = 180.0", 'length_mm = "long"'), "length_mm must be a number"),
        (("needs = 294", "needs = true"), "needs must be a whole number"),
        (("lab = [60.0, 45.0, 30.5]", "lab = [60.0, 45.0]"), "lab must be three numbers"),
        (("lab = [60.0, 45.0, 30.5]", "lab = [60.0, 45.0, nan]"), "lab must be a number"),
        (('name = "Quay bracelet"', "name = "), "cannot be read"),
    ],
)
def test_a_fault_is_told_by_its_key(folder, changed, says):
    path = kept.keep(folder, QUAY, b"")
    text = path.read_text()
    assert changed[0] in text
    path.write_text(text.replace(*changed))
    with pytest.raises(KeptError, match=says):
        kept.read(path)
    found, faulty = kept.read_all(folder)
    assert not found
    assert "quay-bracelet.toml" in str(faulty[0])


def test_marking_keeps_what_the_maker_wrote_beside(folder):
    path = kept.keep(folder, QUAY, b"")
    path.write_text("# my own remark\n" + path.read_text() + "\n[mine]\nprice = 48\n")
    assert kept.mark(path, "sold").state == "sold"
    text = path.read_text()
    assert text.startswith("# my own remark\n")
    assert "price = 48" in text
    with pytest.raises(ValueError, match="a state is one of"):
        kept.mark(path, "eaten")


def test_deleting_lays_it_in_the_bin_beside_what_lies_there(folder):
    for note in ("first", "second"):
        there = kept.delete(kept.keep(folder, dataclasses.replace(QUAY, note=note), note.encode()))
        assert kept.read(there).note == note
        assert there.with_suffix(".jpg").read_bytes() == note.encode()
    assert kept.read_all(folder) == ({}, [])
    with pytest.raises(KeptError, match="no colourway 'Quay bracelet'"):
        kept.find(folder, "Quay bracelet")


def test_the_newest_comes_first(folder):
    old = dataclasses.replace(QUAY, name="An old one", made_on=datetime.date(2020, 1, 1))
    kept.keep(folder, old, b"")
    kept.keep(folder, QUAY, b"")
    assert [one.name for one in kept.read_all(folder)[0].values()] == ["Quay bracelet", "An old one"]
