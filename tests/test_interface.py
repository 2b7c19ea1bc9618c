"""The library's interface: every name is there, documented, and loaded only when used."""

import importlib
import inspect
import json
import math
import subprocess
import sys
from pathlib import Path

import pytest

import analyser

SAMPLES = Path(__file__).resolve().parents[1] / "samples"
STOCK = SAMPLES.parent / "palettes" / "demo-stock.csv"
TRUTH = json.loads((SAMPLES / "truth.json").read_text(encoding="utf-8"))["photos"]
VERBS = [name for name in analyser.__all__ if inspect.isfunction(getattr(analyser, name))]


@pytest.mark.parametrize("name", analyser.__all__)
def test_every_name_is_there_and_documented(name):
    found = getattr(analyser, name)
    doc = inspect.getdoc(found)
    assert doc
    assert "Parameters" in doc or "Attributes" in doc or inspect.isclass(found) or "Raises" in doc


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="nonsense"):
        _ = analyser.nonsense


def test_importing_the_package_costs_nothing():
    done = subprocess.run(
        [sys.executable, "-c", "import analyser, sys; print(sorted(m for m in sys.modules if 'numpy' in m))"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip() == "[]"


def test_the_palette_path_loads_little():
    """scikit-image, scipy, Pillow, rich and jinja2 each cost more than a palette of a small photo."""
    code = (
        "import sys; from analyser.colourway import photo_palette; import analyser.cli.palette; "
        "print(sorted({m.split('.')[0] for m in sys.modules} & "
        "{'skimage', 'scipy', 'PIL', 'rich', 'jinja2', 'openpyxl', 'colormath', 'pi_heif'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_counting_and_checking_a_list_need_no_arrays():
    """NumPy's import takes longer than all else of them."""
    code = (
        "import sys; from analyser.cli.main import exit_code; "
        f"exit_code(['stock', 'check', {str(STOCK)!r}]); exit_code(['count', '--length', '18cm']); "
        "print(sorted({'numpy', 'cv2', 'statistics', 'importlib.resources'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_rooms_of_the_same_name_do_not_hide_the_functions():
    for room in ("audit", "tray"):
        importlib.import_module(f"analyser.{room}")
        assert inspect.isfunction(getattr(analyser, room))
        assert inspect.ismodule(sys.modules[f"analyser.{room}"])


@pytest.mark.parametrize("name", VERBS)
def test_every_function_is_typed_and_says_what_it_takes_gives_and_refuses(name):
    function = getattr(analyser, name)
    doc = inspect.getdoc(function)
    assert all(part in doc for part in ("Parameters\n---", "Returns\n---", "Raises\n---"))
    signature = inspect.signature(function)
    assert signature.return_annotation is not inspect.Signature.empty
    for parameter in signature.parameters.values():
        assert parameter.annotation is not inspect.Parameter.empty
        assert parameter.name in doc


# The colours of the drawn scene: samples/truth.json.
def test_palette_and_match_from_a_path():
    found = analyser.palette(SAMPLES / "outfit-scarf.jpg", colours=6)
    assert len(found.colours) == 6
    dress = next(m for m in TRUTH["outfit-scarf.jpg"]["materials"] if m["name"] == "dress")
    lab = [colour.lab for colour in found.colours]
    assert min(math.dist(one, dress["seen_lab"]) for one in lab) < 8
    beads = analyser.read_stock(STOCK)
    for colour, near in zip(lab, analyser.match(lab, beads, top=2), strict=True):
        assert near.lab == pytest.approx(colour)
        assert near.beads[0].de00 <= near.beads[1].de00


def test_match_takes_colours_as_one_types_them_and_a_list_by_its_path():
    coral = next(bead for bead in analyser.read_stock(STOCK).beads if bead.lab is not None)
    typed = [coral.id, "lab:{},{},{}".format(*coral.lab)]
    for near in analyser.match(typed, str(STOCK), top=1):
        assert near.beads[0].de00 == pytest.approx(0.0, abs=1e-9)


def test_pairs_say_what_they_need():
    found = analyser.pairs(SAMPLES / "outfit-scarf.jpg", STOCK, length="18cm", top=3)
    assert len(found) == 3
    counted = analyser.counts(motif="chenille", length="18cm")
    assert found[0].needs == counted.with_spare


def test_tray_gives_the_piles_that_were_drawn():
    assert len(analyser.tray(SAMPLES / "tray-of-beads.jpg").piles) == len(TRUTH["tray-of-beads.jpg"]["piles"])


def test_audit_judges_as_the_rope_was_drawn():
    name = "rope-teal-copper-lot-change.jpg"
    piece = analyser.audit(SAMPLES / name)
    assert piece.verdict == TRUTH[name]["verdict"]
    assert [finding.kind for finding in piece.findings] == [fault["kind"] for fault in TRUTH[name]["faults"]]


def test_counts_refuses_beads_without_a_stock():
    with pytest.raises(analyser.AnalyserError, match="stock"):
        analyser.counts(length="18cm", beads={"body": "teal"})


def test_a_plan_is_counted_bead_by_bead(tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text('[[stretch]]\nshare = 0.5\nbody = "a"\n[[stretch]]\nbody = "b"\n', encoding="utf-8")
    whole, parts = (analyser.counts(rounds=40, plan=told) for told in (None, plan))
    assert set(parts.beads) == {"accent", "body:a", "body:b"}
    assert parts.beads["body:a"] + parts.beads["body:b"] == whole.beads["body"]
    assert parts.thread == whole.thread
