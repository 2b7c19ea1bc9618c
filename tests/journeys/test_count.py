"""The count verb as a maker runs it: piece, class, gauge kept, bad input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from click.testing import CliRunner, Result

from analyser.cli.main import exit_code
from analyser.report import schemas

STOCK = """\
id,name,size,shape,finish,hex,quantity,unit,lot
T1,Teal night,11/0,round,opaque,#004455,9.5,grams,a
T1,Teal night,11/0,round,opaque,#004658,6,grams,b
C1,Cream,11/0,round,opaque,#eeddcc,40,grams,c
P1,Plum,11/0,cylinder,matte,#552244,12,grams,d
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
    code, out, _ = run(capsys, *arguments, "--json", "-")
    assert code == 0
    told: dict[str, Any] = json.loads(out)
    jsonschema.validate(told, schemas.load("count"))
    return told


def test_a_piece_by_hand(capsys: pytest.CaptureFixture[str]) -> None:
    """Common practice, no source: 140 rounds of chenille are 444 accent and 846 body beads."""
    told = answer(
        capsys,
        "--motif",
        "chenille",
        "--rounds",
        "140",
        "--stock",
        "stock.csv",
        "--accent",
        "C1",
        "--body",
        "T1",
    )
    assert told["beads"] == told["low"] == told["high"] == {"accent": 444, "body": 846}
    assert told["with_spare"] == {"accent": 489, "body": 931}
    assert told["stock"]["accent"]["enough"] is True
    assert told["stock"]["body"] == {
        "id": "T1", "lot": "a", "have": 950, "enough": True, "short": 0,
        "lots": [{"lot": "a", "kits": 1}], "blend": None,
    }  # fmt: skip
    assert told["options"]["stock"] == "stock.csv"


def test_every_default_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "--length", "178mm")
    assert (code, err) == (0, "")
    for words in (
        "20 mm (default)",
        "6 mm (default)",
        "10% spare (default)",
        "139 mm for the rounds",
        "11/0 beads (default)",
    ):
        assert words in out
    _, out, _ = run(
        capsys, "--length", "178mm", "--clasp", "15mm", "--end-bead", "0", "--spare", "5%", "--size", "11/0"
    )
    assert "(default)" not in out
    assert "no end beads" in out


def test_a_kept_gauge_serves_the_next_piece(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    (folder / "analyser.toml").write_text('# mine\nspare = "0%"\n', encoding="utf-8")
    code, _, err = run(capsys, "--length", "178mm", "--gauge", "100 rounds in 205mm", "--keep-gauge")
    assert code == 0
    assert "kept in analyser.toml for chenille 11/0 round" in err
    told = answer(capsys, "--length", "178mm")
    assert told["beads"] == {"accent": 228, "body": 414}
    assert told["gauge"] == "100 rounds in 205mm"
    assert told["spare"] == 0
    assert (
        (folder / "analyser.toml").read_text(encoding="utf-8").startswith('# mine\nspare = "0%"\n\n[gauge]\n')
    )
    assert answer(capsys, "--length", "178mm", "--size", "8/0")["gauge"] is None


def test_a_class_in_two_colourways(capsys: pytest.CaptureFixture[str]) -> None:
    asked = ("--kits", "4", "--rounds", "79", "--stock", "stock.csv")
    ways = ("--colourway", "Dusk: A=C1, B=T1 x3", "--colourway", "accent=P1,body=C1 x1")
    told = answer(capsys, *asked, *ways)
    assert told["kits"] == 4
    assert [way["name"] for way in told["colourways"]] == ["Dusk", "Plum and Cream"]
    assert told["missing"] == [{"colourway": "Dusk", "role": "body", "kits": 1}]
    assert told["enough"] is False
    assert [card["number"] for card in told["cards"]] == [1, 2, 3, 4]
    assert {p["letter"] for p in told["cards"][0]["portions"]} == {"A", "B"}
    code, out, _ = run(capsys, *asked, *ways)
    assert code == 0
    assert "Short: Dusk, body: no lot left for 1 kit" in out
    assert out.count("not for children under 3") == 4


@pytest.mark.parametrize(
    "name", ["herringbone", "spiral", "peyote-odd", "bead-crochet-7", "right-angle", "netting"]
)
def test_other_motifs(capsys: pytest.CaptureFixture[str], name: str) -> None:
    told = answer(capsys, "--motif", name, "--wrist", "6.5in", "--kits", "3")
    assert told["motif"] == name
    assert all(
        told["low"][r] <= told["beads"][r] <= told["high"][r] <= told["with_spare"][r] for r in told["beads"]
    )


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--motif", "chenile"), "no motif 'chenile'; known are"),
        (("--length", "18"), "is no length"),
        (("--length", "2cm"), "too short"),
        (("--length", "18cm", "--wrist", "16cm"), "give one of --length, --wrist, --neck, --rounds"),
        (("--gauge", "fast"), "expected a gauge such as '37 rounds in 5cm'"),
        (("--keep-gauge",), "--keep-gauge keeps what --gauge says"),
        (("--accent", "C1"), "give it as --stock FILE"),
        (("--stock", "stock.csv", "--accent", "X9"), "no bead 'X9'"),
        (("--stock", "stock.csv", "--third", "C1"), "has no third; it has accent, body"),
        (("--stock", "none.csv", "--accent", "C1"), "none.csv"),
        (("--bead", "accent"), "expected --bead ROLE=SIZE"),
        (("--size", "99/9"), "is not a bead size"),
        (("--stock", "stock.csv", "--colourway", "Dusk"), "expected --colourway 'NAME: accent=BEAD"),
        (("--stock", "stock.csv", "--colourway", "A=C1 x2", "--colourway", "A=T1"), "either every --colour"),
        (("--spare", "lots"), "a share such as 10%"),
    ],
)  # fmt: skip
def test_what_cannot_be_counted_is_one_line(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str
) -> None:
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1
    code, out, _ = run(capsys, *arguments, "--json", "-")
    assert code == 2
    assert says in json.loads(out)["error"]["says"]


def test_help_names_the_defaults() -> None:
    from analyser.cli.count import count

    shown: Result = CliRunner().invoke(count, ["--help"])
    assert shown.exit_code == 0
    for words in ("default: (18cm)", "10% for a piece, 15% for kits", "default: 20mm", "6mm on 11/0"):
        assert words in " ".join(shown.output.split())


DEMO = Path(__file__).parents[2] / "palettes" / "demo-stock.csv"


def test_a_class_of_ten_seats_in_four_colourways_from_the_demo_stock(
    capsys: pytest.CaptureFixture[str],
) -> None:
    ways = [
        "Quay: accent=harbour-mustard, body=night-watch, end=pearl-button",
        "Reef: accent=coral-dusk, body=teal-deep",
        "Cliff: accent=chalk-cliff, body=kelp-pool",
        "Night: accent=gorse, body=night-watch",
    ]
    asked = [part for way in ways for part in ("--colourway", way)]
    told = answer(capsys, "--kits", "10", "--length", "7in", "--stock", str(DEMO), *asked)
    assert [way["kits"] for way in told["colourways"]] == [3, 3, 2, 2]
    assert (told["enough"], told["missing"], told["unknown"]) == (True, [], [])
    assert len(told["cards"]) == 10
    taken: dict[tuple[str, str], int] = {}
    for card in told["cards"]:
        for portion in card["portions"]:
            assert portion["grams"] == round(portion["grams"], 1)
            at = (portion["id"], portion["lot"])
            taken[at] = taken.get(at, 0) + portion["beads"]
    # By the list: 66 g of night-watch in lot 15, and so on, at 100 beads to the gram at least.
    for (name, which), grams in {
        ("night-watch", "15"): 66, ("coral-dusk", "14"): 57, ("teal-deep", "5"): 44, ("kelp-pool", "9"): 48,
    }.items():  # fmt: skip
        assert taken.get((name, which), 0) <= 100 * grams
    order = {line["what"]: line["packs"] for line in told["order"]}
    assert order["clasp"] == 10
    # Seven kits name no end beads, and the list has 31 of 6 mm: none are bought.
    assert "end bead 6 mm" not in order
    assert any("(float-navy) in your list will do" in note for note in told["notes"])
    assert not any(line["beads"] for line in told["order"])
