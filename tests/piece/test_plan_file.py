"""Plan files: what they may hold, and each fault with its line and the mend. The format is our own."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analyser.errors import PlanError
from analyser.motif.plan import Plan, Stretch
from analyser.piece import plan_file

SOUND = """
repeat = false
mirror = true
[[stretch]]
rounds = 20
body = "teal-deep"
[[stretch]]
share = 0.3
fade = true
[[stretch]]
B = "driftwood"
"""


def test_a_plan_is_read_with_letters_and_roles(tmp_path: Path) -> None:
    path = tmp_path / "plan.toml"
    path.write_text(SOUND, encoding="utf-8-sig")
    read = plan_file.load(path)
    assert (read.repeat, read.mirror) == (False, True)
    assert read.stretches == (
        Stretch({"body": "teal-deep"}, rounds=20),
        Stretch(share=0.3, fade=True),
        Stretch({"body": "driftwood"}),
    )
    assert read.texts("body") == ("teal-deep", "driftwood")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no stretch in it"),
        ("stretch = 3", r"line 1: write each stretch as a table"),
        ("colours = 3", r"line 1: 'colours' is unknown"),
        ("[[stretch]]\nrounds = 3\nshare = 0.5", r"line 3: give one of rounds, share, length"),
        ("[[stretch]]\nrounds = -1", r"line 2: rounds is a whole number from 0, got -1"),
        ("[[stretch]]\nrounds = true", r"line 2: rounds is a whole number"),
        ("[[stretch]]\nshare = 30", r"line 2: share is a part of the rope from 0 to 1, got 30"),
        ('[[stretch]]\nlength = "4"', r"line 2: .*unit"),
        ("[[stretch]]\nlength = 4", r"line 2: length is text with its unit"),
        ("[[stretch]]\nbody = 4", r"line 2: body = ...."),
        ('[[stretch]]\nbodi = "x"', r"line 2: 'bodi' is unknown"),
        ('[[stretch]]\nbody = "x"\nB = "y"', r"line 3: the body is named twice"),
        ("[[stretch]]\nfade = 1", r"line 2: fade is true or false"),
        ('repeat = "yes"\n[[stretch]]', r"line 1: repeat is true or false"),
        ('[[stretch]]\nfade = true\nbody = "x"', r"a fade takes its beads from the stretches beside it"),
        ("[[stretch]]\nfade = true", r"line 1: a fade needs a stretch with beads to go to"),
        (
            '[[stretch]]\nfade = true\nshare = 0.5\n[[stretch]]\nbody = "x"',
            r"line 1: a fade needs a stretch before it",
        ),
        (
            '[[stretch]]\nbody = "x"\nrounds = 3\n[[stretch]]\nfade = true',
            r"line 4: a fade needs a stretch after it",
        ),
        ('[[stretch]]\nbody = "x"\n[[stretch]]\nbody = "y"', r"line 3: two stretches without"),
        ("[[stretch]]\nshare = 0.7\n[[stretch]]\nshare = 0.7", r"add up to 1.4"),
        ("[[stretch]]\nbody = x", r"line 2, column"),
        ("x = " + "[" * 5000, r"brackets within brackets|line 1"),
    ],
)
def test_each_fault_has_its_line_and_the_mend(text: str, says: str) -> None:
    with pytest.raises(PlanError, match=says):
        plan_file.parse(text, "plan.toml")


def test_what_is_no_readable_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(PlanError, match="cannot be read"):
        plan_file.load(tmp_path / "none.toml")
    os.mkfifo(tmp_path / "pipe.toml")
    with pytest.raises(PlanError, match="is a pipe or a device, not a file"):
        plan_file.load(tmp_path / "pipe.toml")
    (tmp_path / "latin.toml").write_bytes(b'[[stretch]]\nbody = "gr\xfcn"\n')
    with pytest.raises(PlanError, match="line 2: not UTF-8"):
        plan_file.load(tmp_path / "latin.toml")
    (tmp_path / "long.toml").write_bytes(b"#" * 200_000)
    with pytest.raises(PlanError, match="too long for a plan"):
        plan_file.load(tmp_path / "long.toml")


def fault_of(text: str) -> str:
    """What is wrong with a plan; the name of the file where nothing is."""
    try:
        plan_file.parse(text, "plan.toml")
    except PlanError as error:
        return str(error)
    return "plan.toml"


@given(st.text(max_size=200))
def test_any_text_is_a_plan_or_one_line(text: str) -> None:
    assert fault_of(text).startswith("plan.toml")


def test_the_short_forms() -> None:
    fade = plan_file.fade("body=teal-deep..driftwood..coral-dusk")
    assert [stretch.fade for stretch in fade.stretches] == [False, True, False, True, False]
    assert sum(stretch.share or 0.0 for stretch in fade.stretches) == pytest.approx(1.0)
    bands = plan_file.bands(8, "accent=coral-dusk,honey-jar")
    assert bands.repeat
    assert [stretch.rounds for stretch in bands.stretches] == [8, 8]
    for wrong in ("body", "body=a", "rim=a..b", "body=a.."):
        with pytest.raises(PlanError, match="expected --fade"):
            plan_file.fade(wrong)
    with pytest.raises(PlanError, match="1 round or more"):
        plan_file.bands(0, "accent=a,b")


SIZES = st.one_of(
    st.fixed_dictionaries({"rounds": st.integers(0, 1000)}),
    st.fixed_dictionaries({"share": st.floats(0, 0.2)}),
    st.fixed_dictionaries({"length_mm": st.floats(1, 900)}),
)
ROLES = st.sampled_from(["accent", "body", "third", "D"])
NAMED = st.dictionaries(ROLES, st.sampled_from(["a", 'b "c"', "#102030"]), min_size=1)
STRETCHES = st.lists(
    st.builds(lambda beads, size: Stretch(beads, **size), NAMED, SIZES), min_size=2, max_size=5
)


@given(stretches=STRETCHES, repeat=st.booleans(), mirror=st.booleans(), fades=st.booleans())
def test_a_plan_written_and_read_is_the_same_plan(
    stretches: list[Stretch], repeat: bool, mirror: bool, fades: bool
) -> None:
    if fades:
        stretches = [stretches[0], Stretch(fade=True), *stretches[1:]]
    again = plan_file.parse(plan_file.text(Plan(tuple(stretches), repeat, mirror)), "plan.toml")
    assert (again.repeat, again.mirror) == (repeat, mirror)
    for one, other in zip(again.stretches, stretches, strict=True):
        assert dict(one.beads) == dict(other.beads)
        assert (one.rounds, one.share, one.fade) == (other.rounds, other.share, other.fade)
        assert one.length_mm == pytest.approx(other.length_mm)
