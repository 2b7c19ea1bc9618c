"""Plans from the command line: counted bead by bead, against the stock, with a chart to weave by.

Common practice, no source: the format is our own; sums follow from its definition.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from analyser.cli.main import exit_code
from analyser.report import schemas

STOCK = """\
id,name,size,shape,finish,hex,quantity,unit,lot
teal,Teal night,11/0,round,opaque,#004455,40,grams,a
cream,Cream,11/0,round,opaque,#eeddcc,40,grams,c
plum,Plum,11/0,round,matte,#552244,20,beads,d
"""


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "stock.csv").write_text(STOCK, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    code = exit_code(["count", *arguments])
    out, err = capsys.readouterr()
    return code, out, err


def answer(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    code, out, err = run(capsys, *arguments, "--json", "-")
    assert code == 0, err
    told: dict[str, Any] = json.loads(out)
    jsonschema.validate(told, schemas.load("count"), cls=jsonschema.Draft202012Validator)
    return told


def test_a_fade_is_counted_against_the_stock(capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(
        capsys, "--rounds", "60", "--stock", "stock.csv", "--accent", "cream", "--fade", "body=teal..plum"
    )
    beads = {(one["role"], one["id"]): one for one in told["planned"]["beads"]}
    assert beads["body", "teal"]["beads"] + beads["body", "plum"]["beads"] == told["beads"]["body"]
    assert beads["accent", "cream"]["beads"] == told["beads"]["accent"]
    assert beads["body", "teal"]["enough"] is True
    assert beads["body", "plum"]["enough"] is False
    assert beads["body", "plum"]["short"] == beads["body", "plum"]["with_spare"] - 20
    assert told["planned"]["enough"] is False


def test_the_chart_holds_every_bead_and_each_has_its_number(
    capsys: pytest.CaptureFixture[str], folder: Path
) -> None:
    (folder / "plan.toml").write_text(
        'mirror = true\n[[stretch]]\nshare = 0.2\nbody = "teal"\n[[stretch]]\nbody = "cream"\n', "utf-8"
    )
    code, out, err = run(
        capsys,
        *("--rounds", "24", "--stock", "stock.csv", "--accent", "cream", "--plan", "plan.toml"),
        *("--out", "page"),
    )
    assert code == 0, err
    assert "B body    Teal night, 11/0 round" in out
    assert "B body    Cream, 11/0 round" in out
    page = (folder / "page" / "chart.html").read_text(encoding="utf-8")
    # Cream is accent and body, and has one number.
    assert page.count('scope="col"') == 4
    assert "accent and body" in page
    assert page.count("<img") == 3  # drawn straight, close by and as a ring
    beads = 0
    for row in re.findall(r"<li>(.*?)</li>", page, re.S):
        times = int(found[1]) if (found := re.search(r"\(×(\d+)\)", row)) else 1
        for stitch in re.findall(
            r'<span class="stitch">(.*?)</span>(?=<span class="stitch">|</span>)', row, re.S
        ):
            runs = int(found[1]) if (found := re.search(r"×(\d+)", stitch)) else 1
            beads += times * runs * stitch.count('class="num')
    # Each round has a box to tick, and is read aloud once.
    assert page.count('type="checkbox"') >= 24
    assert page.count('class="spoken"') == page.count("<li>")
    assert beads == 30 + 9 * 24  # common practice, no source: base and closing 30, a round 9


def test_what_is_no_plan_ends_in_a_line(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    (folder / "plan.toml").write_text('[[stretch]]\nbodi = "teal"\n', "utf-8")
    for arguments, says in (
        (("--plan", "plan.toml"), "plan.toml, line 2: 'bodi' is unknown"),
        (("--plan", "fade"), "a fade is proposed from a photo: analyser colourway PHOTO --plan fade"),
        (("--fade", "body=teal"), "expected --fade body=FROM..TO"),
        (("--fade", "third=teal..plum"), "the plan names the third; the motif chenille has accent, body"),
        (("--fade", "body=teal..grape", "--stock", "stock.csv"), "grape"),
        (("--fade", "body=teal..plum", "--bands", "3", "body=a,b"), "give one plan"),
    ):
        code, out, err = run(capsys, *arguments)
        assert (code, out) == (2, "")
        assert says in err
        assert err.count("\n") == 1


def test_a_planned_piece_is_booked_out_bead_by_bead(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    fade = ("--rounds", "60", "--accent", "cream", "--fade", "body=teal..cream")
    counted = answer(capsys, *fade, "--stock", "stock.csv")
    code = exit_code(["stock", "use", "stock.csv", *fade, "--json", "-"])
    out, err = capsys.readouterr()
    assert code == 0, err
    told = json.loads(out)
    jsonschema.validate(told, schemas.load("stock use"), cls=jsonschema.Draft202012Validator)
    taken: dict[str, int] = {}
    for line in told["taken"]:
        taken[line["id"]] = taken.get(line["id"], 0) + line["beads"]
    wanted: dict[str, int] = {}
    for one in counted["planned"]["beads"]:
        wanted[one["id"]] = wanted.get(one["id"], 0) + one["beads"]
    assert taken == wanted
    card = (folder / told["card_file"]).read_text(encoding="utf-8")
    assert "B  body: Teal night (teal)" in card
    assert "B  body: Cream (cream)" in card


def test_kits_of_a_plan_are_packed_bead_by_bead(capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(
        capsys,
        *("--rounds", "40", "--stock", "stock.csv", "--accent", "cream", "--kits", "3"),
        *("--bands", "4", "body=teal,plum"),
    )
    assert len(told["cards"]) == 3
    by_bead = {one["id"]: one for one in told["planned"]["beads"] if one["role"] == "body"}
    portions = {one["id"]: one for one in told["cards"][0]["portions"] if one["role"] == "body"}
    assert portions["teal"]["beads"] == by_bead["teal"]["with_spare"]
    # The list holds 20 beads of plum: no kit can have them, and they are on the shopping list.
    assert [(line["role"], line["bead"], line["kits"]) for line in told["missing"]] == [("body", "plum", 3)]
    assert any(line["what"] == "Plum (plum)" for line in told["order"])
    assert told["enough"] is False


def test_a_colour_cannot_be_booked_out(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    before = (folder / "stock.csv").read_bytes()
    code = exit_code(["stock", "use", "stock.csv", "--rounds", "40", "--fade", "body=teal..#aa3344"])
    assert code == 2
    assert "the plan names #aa3344 for the body: a colour, no bead of the list" in capsys.readouterr().err
    assert (folder / "stock.csv").read_bytes() == before
