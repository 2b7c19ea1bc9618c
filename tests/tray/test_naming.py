"""Names for measured piles: what a line may hold, what is refused, and what goes in the list."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyser.errors import OptionError
from analyser.tray.naming import PileName, read_names, suggested_id


def test_a_line_holds_id_name_and_lot(tmp_path: Path) -> None:
    file = tmp_path / "names.txt"
    file.write_text("# my tray\n\ntide-pool\nkelp; Kelp green\n-\ngull,Gull, 7\nsalt\tSalt\n", "utf-8-sig")
    assert read_names(file, range(1, 5 + 1)) == (
        PileName("tide-pool", "tide-pool"),
        PileName("kelp", "Kelp green"),
        None,
        PileName("gull", "Gull", "7"),
        PileName("salt", "Salt"),
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a\nb\n", "names 2 piles, the photo shows 3"),
        ("a\nb\nc\nd\n", "names 4 piles, the photo shows 3"),
        ("a\n;Nameless\nc\n", "line 2: expected id"),
        ("a\nb;B;1;more\nc\n", "line 2: expected id"),
        ("a\nb\nA\n", "line 3: 'A' stands in line 1 already"),
    ],
)
def test_wrong_names_are_refused_in_one_line(text: str, says: str, tmp_path: Path) -> None:
    file = tmp_path / "names.txt"
    file.write_text(text, "utf-8")
    with pytest.raises(OptionError, match=says) as told:
        read_names(file, range(1, 3 + 1))
    assert "\n" not in str(told.value)


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "names.bin"
    file.write_bytes(b"\xff\xfe\x00\x01")
    with pytest.raises(OptionError, match="not UTF-8"):
        read_names(file, range(1, 1 + 1))
    with pytest.raises(OptionError, match="cannot be read"):
        read_names(tmp_path / "none.txt", [1])


def test_suggested_ids_are_free() -> None:
    assert suggested_id("dusty teal", []) == "dusty-teal"
    assert suggested_id("dusty teal", ["Dusty-Teal", "dusty-teal-2"]) == "dusty-teal-3"
    assert suggested_id("…", []) == "bead"
