"""Motif files: a maker's own is read; each fault says its line and the mend."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.errors import MotifError
from analyser.motif import parsing
from analyser.motif.parsing import parse

CHENILLE = resources.files("analyser.motif").joinpath("motifs", "chenille.toml").read_text(encoding="utf-8")

THREE = """\
name = "three"
columns = 6
repeats_after = 3
rise = 1.0
[stitch.one]
beads = [ { along = 0.5 } ]
[[round]]
stitch = "one"
stitches = 6
beads = "A B C D B B"
turn = "1/3"
"""


def line_of(text: str, wanted: str) -> int:
    return next(i for i, line in enumerate(text.splitlines(), start=1) if wanted in line)


@pytest.mark.parametrize("name", parsing.names())
def test_the_repeat_is_worked_out_where_it_is_left_out(name: str) -> None:
    text = resources.files("analyser.motif").joinpath("motifs", f"{name}.toml").read_text(encoding="utf-8")
    shorter = "\n".join(line for line in text.splitlines() if not line.startswith("repeats_after"))
    assert shorter != text
    assert parse(shorter, name) == parse(text, name)


def test_what_never_comes_back_is_told_where_the_repeat_is_left_out() -> None:
    text = THREE.replace("repeats_after = 3\n", "").replace('"1/3"', "0.0013")
    with pytest.raises(MotifError, match=r"line 6: .*nothing comes back within 400 rounds"):
        parse(text, "three.toml")


def test_a_makers_own_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "three.toml"
    path.write_text(THREE.replace("repeats_after = 3", "repeats_after = 18"), encoding="utf-8-sig")
    made = parsing.load(path)
    assert made.roles == ("accent", "body", "third", "D")
    assert made.counts(2) == {"accent": 2, "body": 6, "third": 2, "D": 2}
    assert (made.rise.low, made.rise.high) == (1.0, 1.0)


def test_every_shipped_name_loads_and_says_what_it_is() -> None:
    assert set(parsing.names()) == {
        "chenille",
        "herringbone",
        "herringbone-twisted",
        "peyote-even",
        "peyote-odd",
        "spiral",
        "netting",
        "right-angle",
        *(f"bead-crochet-{around}" for around in (5, 6, 7, 8)),
    }
    for name in parsing.names():
        made = parsing.load(name)
        assert made.name == name
        assert made.title
        assert made.says
        assert {"accent", "body"} <= set(made.roles)


# Each fault: what is changed in a good file, where the message must point, and what it must say.
FAULTS = [
    ("columns = 6 ", "columns = six ", "columns = six", "line {n}, column"),
    (
        "columns = 6 ",
        "columns = 0 ",
        "columns = 0",
        "line {n}: columns: expected a whole number from 1 to 200, got 0",
    ),
    ("columns = 6 ", "colums = 6 ", "colums", "line {n}: colums: unknown; known here are name"),
    (
        "lean = 45",
        'lean = "45"',
        'lean = "45"',
        "line {n}: stitch.net.beads.1.lean: expected a number from -180",
    ),
    ("lean = -45", "leen = -38", "leen", "line {n}: stitch.net.beads.3.leen: unknown"),
    (
        'stitch = "net"',
        'stitch = "nett"',
        '"nett"',
        "line {n}: round.1.stitch: no stitch 'nett'; known are net, column",
    ),
    (
        '"BAB"  ',
        '"BAX1" ',
        '"BAX1"',
        "line {n}: round.1.beads: expected capital letters, one a bead, got 'BAX1'",
    ),
    (
        '"BAB"  ',
        '"BABA" ',
        '"BABA"',
        "line {n}: round.1.beads: 'BABA' has 4 letters, but stitch 'net' has 3 beads",
    ),
    ('"BAB"  ', '"BAB BAB"', '"BAB BAB"', "line {n}: round.1.beads: 2 groups of letters for 3 stitches"),
    (
        "turn = 0.5   ",
        'turn = "x"   ',
        'turn = "x"',
        "line {n}: round.1.turn: expected a number or a fraction",
    ),
    (
        "turn = 0.5   ",
        "turn = 0.3   ",
        "repeats_after",
        "line {n}: repeats_after: says 2, but .* after 10 rounds",
    ),
    (
        "repeats_after = 2",
        "repeats_after = 3",
        "repeats_after",
        "line {n}: repeats_after: says 3, but .* after 1|after 2",
    ),
    ("low = 1.2", "low = 2.2", "low = 2.2", "line {n}: rise: low, likely, high must not fall"),
    ("low = 1.2, ", "", "rise = {", "line {n}: rise.low: missing"),
    (
        "high = 1.45",
        'high = 1.45, of = "yard"',
        "rise = {",
        'line {n}: rise.of: expected "length" or "diameter"',
    ),
    ("rise = 2.0", "rise = true", "rise = true", "line {n}: base.1.rise: expected a number"),
    ("step_up = 2 ", "step_up = 2.5 ", "step_up", "line {n}: thread.step_up: expected a whole number"),
    ('name = "chenille"', "name = 5", "name = 5", "line {n}: name: expected text in quotes"),
    ("[[round]]", "[round]", "[round]", r"line {n}: round: expected \[\[round\]\] with two brackets"),
    (
        "passes = 1 },\n  { around = 0.0",
        "passes = 0 },\n  { around = 0.0",
        "passes = 0",
        "line {n}: stitch.net.beads.1.passes",
    ),
]


@pytest.mark.parametrize(("old", "new", "mark", "says"), FAULTS, ids=[f[1].strip()[:24] for f in FAULTS])
def test_a_fault_is_named_with_its_line_and_the_mend(old: str, new: str, mark: str, says: str) -> None:
    assert old in CHENILLE
    text = CHENILLE.replace(old, new, 1)
    with pytest.raises(MotifError, match=says.replace("{n}", str(line_of(text, mark)))) as caught:
        parse(text, "mine.toml")
    assert str(caught.value).startswith("mine.toml, line ")
    assert "\n" not in str(caught.value)


def test_a_repeat_that_never_comes_is_said() -> None:
    with pytest.raises(MotifError, match=r"line 3: repeats_after: .* not within 400 rounds"):
        parse(THREE.replace('"1/3"', "0.12340981"), "three.toml")


def test_what_is_missing_is_said() -> None:
    with pytest.raises(MotifError, match=r"three.toml: columns: missing; write columns = a whole number"):
        parse(THREE.replace("columns = 6\n", ""), "three.toml")
    with pytest.raises(MotifError, match=r"three.toml: round: missing; write at least one \[\[round\]\]"):
        parse(THREE.split("[[round]]")[0], "three.toml")
    with pytest.raises(MotifError, match=r"line 5: stitch.one: missing beads"):
        parse(THREE.replace("beads = [ { along = 0.5 } ]", "beads = []"), "three.toml")


def test_a_spiral_turns_by_itself() -> None:
    text = THREE.replace("columns = 6", "columns = 6\na_turn = 6.0")
    with pytest.raises(MotifError, match=r"line 12: round\.1\.turn: a spiral"):
        parse(text, "three.toml")


def test_no_such_motif_or_file(tmp_path: Path) -> None:
    with pytest.raises(
        MotifError, match=r"no motif 'chenile'; known are bead-crochet-5, .*, or give a \.toml"
    ):
        parsing.load("chenile")
    with pytest.raises(MotifError, match="cannot be read"):
        parsing.load(tmp_path / "none.toml")
    (tmp_path / "latin.toml").write_bytes(b'name = "x"\nsays = "Gr\xfcn"\n')
    with pytest.raises(MotifError, match="line 2: not UTF-8 text"):
        parsing.load(tmp_path / "latin.toml")
    (tmp_path / "long.toml").write_bytes(b"#" * 200_000)
    with pytest.raises(MotifError, match="too long for a motif"):
        parsing.load(tmp_path / "long.toml")
    (tmp_path / "cut.toml").write_text('name = "x\n', encoding="utf-8")
    with pytest.raises(MotifError, match="line 1"):
        parsing.load(tmp_path / "cut.toml")
    (tmp_path / "open.toml").write_text("beads = [\n", encoding="utf-8")
    with pytest.raises(MotifError, match="line 2"):
        parsing.load(tmp_path / "open.toml")


@settings(deadline=None)  # the machine may be busy
@given(
    line=st.integers(0, CHENILLE.count("\n")),
    cut=st.integers(0, 60),
    put=st.sampled_from(
        ["", "=", "]", "}", '"', "[", "-1", "1e999", "true", "nan", "inf", "BAB", "\n", "99999999"]
    ),
    drop=st.integers(0, 20),
)
def test_a_slip_of_the_keyboard_is_a_fault_or_a_motif(line: int, cut: int, put: str, drop: int) -> None:
    lines = CHENILLE.split("\n")
    at = min(cut, len(lines[line]))
    lines[line] = lines[line][:at] + put + lines[line][at + drop :]
    says = ""
    try:
        made = parse("\n".join(lines), "mine.toml")
        assert sum(made.counts(3).values()) == len(made.rope(3))
    except MotifError as error:
        says = str(error)
    assert not says or says.startswith("mine.toml")
    assert "\n" not in says
