"""Gauges: read, kept in the settings file, nothing else in it touched."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyser.errors import OptionError
from analyser.piece import gauge as gauges
from analyser.piece.gauge import Gauge

SETTINGS = """\
# my own settings
motif = "chenille"   # the one I weave most

[gauge]
# counted in May
"chenille 11/0 round" = "37 rounds in 7.5cm"  # tight
'spiral 11/0 round' = "30 rounds in 5cm"

[other]
x = 1
"""


@pytest.mark.parametrize(
    ("text", "rise_mm"),
    [("37 rounds in 5cm", 50 / 37), ("12 Rounds in 1 in", 25.4 / 12), ("25,5 rows in 50 mm", 50 / 25.5)],
)
def test_gauges_as_makers_write_them(text: str, rise_mm: float) -> None:
    assert Gauge.parse(text).rise_mm == pytest.approx(rise_mm)


@pytest.mark.parametrize(
    "text", ["", "37", "37 rounds", "0 rounds in 5cm", "37 rounds in 5", "37 rounds in 0cm", "x"]
)
def test_what_is_no_gauge(text: str) -> None:
    with pytest.raises(OptionError, match="gauge"):
        Gauge.parse(text)


def test_a_kept_gauge_replaces_its_line_alone(tmp_path: Path) -> None:
    path = tmp_path / "analyser.toml"
    path.write_text(SETTINGS, encoding="utf-8")
    gauges.keep(path, "chenille 11/0 round", Gauge(26, 50))
    assert path.read_text(encoding="utf-8") == SETTINGS.replace("37 rounds in 7.5cm", "26 rounds in 50mm")
    gauges.keep(path, "spiral 11/0 round", Gauge(31, 50))
    assert gauges.kept(path) == {"chenille 11/0 round": Gauge(26, 50), "spiral 11/0 round": Gauge(31, 50)}
    assert "# counted in May" in path.read_text(encoding="utf-8")


def test_a_new_gauge_goes_to_the_end_of_its_table(tmp_path: Path) -> None:
    path = tmp_path / "analyser.toml"
    path.write_bytes(SETTINGS.replace("\n", "\r\n").encode())
    gauges.keep(path, 'odd "key" \\', Gauge(26, 50))
    data = path.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") == SETTINGS.count("\n") + 1
    assert gauges.kept(path)['odd "key" \\'] == Gauge(26, 50)
    before = tomllib.loads(SETTINGS)
    after = tomllib.loads(data.decode())
    assert {k: v for k, v in after.items() if k != "gauge"} == {
        k: v for k, v in before.items() if k != "gauge"
    }


@pytest.mark.parametrize("start", ["", 'motif = "chenille"', "[gauge]", "[gauge]\n\n", "# nothing yet\n"])
def test_a_file_that_holds_no_gauge_yet(tmp_path: Path, start: str) -> None:
    path = tmp_path / "analyser.toml"
    if start:
        path.write_text(start, encoding="utf-8")
    gauges.keep(path, "a b", Gauge(10, 20))
    gauges.keep(path, "c d", Gauge(11, 20))
    assert gauges.kept(path) == {"a b": Gauge(10, 20), "c d": Gauge(11, 20)}
    assert path.read_text(encoding="utf-8").startswith(start.strip())
    assert [p.name for p in tmp_path.iterdir()] == ["analyser.toml"]


def test_a_table_in_one_line_takes_a_gauge_too(tmp_path: Path) -> None:
    path = tmp_path / "analyser.toml"
    path.write_text('gauge = { a = "1 round in 1cm" } # mine\nsize = "8/0"\n', encoding="utf-8")
    gauges.keep(path, "b", Gauge(10, 20))
    assert gauges.kept(path) == {"a": Gauge(1, 10), "b": Gauge(10, 20)}
    assert path.read_text(encoding="utf-8").endswith('} # mine\nsize = "8/0"\n')


@settings(max_examples=30, deadline=None)  # each writes to the disk several times
@given(
    keys=st.lists(st.text(st.characters(codec="utf-8"), max_size=12), min_size=1, max_size=4, unique=True),
    rounds=st.integers(1, 500),
)
def test_any_key_comes_back(tmp_path_factory: pytest.TempPathFactory, keys: list[str], rounds: int) -> None:
    path = tmp_path_factory.mktemp("gauges") / "analyser.toml"
    for i, key in enumerate(keys):
        gauges.keep(path, key, Gauge(rounds + i, 50))
    gauges.keep(path, keys[0], Gauge(7, 50))
    assert gauges.kept(path) == {key: Gauge(rounds + i if i else 7, 50) for i, key in enumerate(keys)}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("gauge = 5", r"gauge must be a table \[gauge\], got 5"),
        ("[gauge]\nx = 5", "gauge 'x' must be text such as"),
        ('[gauge]\nx = "fast"', "gauge 'x': expected a gauge such as"),
        ("[gauge", "cannot be read as TOML"),
    ],
)
def test_a_file_that_cannot_be_mended_stays_as_it_was(tmp_path: Path, text: str, says: str) -> None:
    path = tmp_path / "analyser.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(OptionError, match=says):
        gauges.keep(path, "b", Gauge(10, 20))
    assert path.read_text(encoding="utf-8") == text


def test_no_file_holds_no_gauge(tmp_path: Path) -> None:
    assert gauges.kept(tmp_path / "analyser.toml") == {}
    with pytest.raises(OptionError, match="cannot be written"):
        gauges.keep(tmp_path / "none" / "analyser.toml", "a", Gauge(1, 2))
