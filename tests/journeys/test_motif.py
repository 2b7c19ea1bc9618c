"""The motif verb as a maker runs it: listed, drawn, an own file checked. The motifs' text is our own."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import jsonschema
import pytest

from analyser.cli.main import exit_code
from analyser.cli.motif_readable import drawn
from analyser.motif import parsing
from analyser.report import schemas


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert exit_code(["motif", *arguments, "--json", "-"]) == 0
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    jsonschema.validate(told, schemas.load(f"motif {arguments[0]}"), cls=jsonschema.Draft202012Validator)
    return told


def test_all_shipped_motifs_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(capsys, "list")
    assert [one["name"] for one in told["motifs"]] == list(parsing.names())
    assert exit_code(["motif", "list"]) == 0
    out = capsys.readouterr().out
    assert all(name in out for name in parsing.names())


@pytest.mark.parametrize("name", parsing.names())
def test_a_motif_is_drawn_in_its_letters(
    name: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    told = answer(capsys, "show", name, "--out", str(tmp_path))
    ElementTree.parse(told["picture"])  # a well-formed picture
    made = parsing.load(name)
    assert told["roles"] == list(made.roles)
    signs = set("".join(drawn(made))) - {" "}
    assert signs == {"A", "B"}
    assert exit_code(["motif", "show", name]) == 0
    assert made.title in capsys.readouterr().out


def test_an_own_file_is_checked(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('name = "mine"\ncolumns = six\n', encoding="utf-8")
    assert exit_code(["motif", "check", str(path)]) == 2
    ended = capsys.readouterr()
    assert ended.out == ""
    assert "mine.toml, line 2" in ended.err
    assert ended.err.count("\n") == 1
