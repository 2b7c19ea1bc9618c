"""How every verb ends: exit codes, one clear line, JSON errors, settings."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import jsonschema
import pytest

from analyser.report import schemas


@pytest.fixture
def bad_files(tmp_path):
    (tmp_path / "empty.jpg").write_bytes(b"")
    (tmp_path / "text.jpg").write_text("this is no picture")
    (tmp_path / "folder.jpg").mkdir()
    return tmp_path


@pytest.mark.parametrize("name", ["empty.jpg", "text.jpg", "folder.jpg", "missing.jpg"])
def test_an_unusable_photo_gets_one_line_and_code_2(analyser, bad_files, name):
    ended = analyser("palette", name)
    assert ended.code == 2
    assert ended.out == ""
    (line,) = ended.err.splitlines()
    assert name in line
    assert "Traceback" not in line


def test_a_truncated_photo_is_refused(analyser, samples, tmp_path):
    whole = (samples / "outfit-scarf.jpg").read_bytes()
    (tmp_path / "half.jpg").write_bytes(whole[: len(whole) // 2])
    ended = analyser("palette", "half.jpg")
    assert ended.code == 2
    assert len(ended.err.splitlines()) == 1


def test_more_pixels_than_the_limit_are_refused_and_the_flag_raises_it(analyser, samples):
    ended = analyser("palette", samples / "outfit-scarf.jpg", "--limit-mp", "1")
    assert ended.code == 2
    assert "--limit-mp" in ended.err
    assert analyser("palette", samples / "outfit-scarf.jpg", "--limit-mp", "2").code == 0


@pytest.mark.parametrize(
    "arguments",
    [
        ("palette", "missing.jpg"),
        ("palette",),
        ("palette", "missing.jpg", "--colours", "99"),
        ("palette", "missing.jpg", "--focus", "1,2,3"),
        ("match", "#888888", "--stock", "missing.csv"),
        ("contrast", "#888888", "nonsense"),
        ("contrast", "#888888", "#111111", "--motif", "nonsense"),
        ("count", "--motif", "chenille", "--length", "18 parsecs"),
        ("nonsense",),
        ("schema", "nonsense"),
    ],
    ids=" ".join,
)
def test_an_error_is_told_to_programs_too(analyser, arguments):
    ended = analyser(*arguments, "--json", "-") if arguments[0] != "schema" else analyser(*arguments)
    assert ended.code == 2
    assert len(ended.err.splitlines()) == 1
    if arguments[0] != "schema":
        told = json.loads(ended.out)
        jsonschema.validate(told, schemas.load("error"))
        assert told["error"]["says"] in ended.err


def test_a_written_json_file_is_whole_and_the_terminal_quiet(analyser, samples, tmp_path):
    ended = analyser("palette", samples / "outfit-scarf.jpg", "--json", "answer.json", "--quiet")
    assert (ended.code, ended.out, ended.err) == (0, "", "")
    jsonschema.validate(json.loads((tmp_path / "answer.json").read_text()), schemas.load("palette"))
    assert [path.name for path in tmp_path.iterdir()] == ["answer.json"]


def test_a_json_file_that_cannot_be_written_is_said(analyser, samples):
    ended = analyser("palette", samples / "outfit-scarf.jpg", "--json", "no/such/folder/answer.json")
    assert ended.code == 2
    assert "no/such/folder" in ended.err


def test_no_colour_codes_reach_a_file_or_a_pipe(analyser, samples):
    ended = analyser("palette", samples / "outfit-scarf.jpg", env={"FORCE_COLOR": "", "NO_COLOR": "1"})
    assert "\x1b" not in ended.out


def test_match_and_contrast_answer_by_their_schemas(analyser, demo_stock):
    told = analyser("match", "#cb6959", "lab:30,-10,-10", "--stock", demo_stock, "--json", "-").answer(
        "match"
    )
    assert [len(match["beads"]) for match in told["matches"]] == [3, 3]
    told = analyser("contrast", "#ffffff", "#000000", "--json", "-").answer("contrast")
    # W3C WCAG 2.2: black and white contrast 21 to 1.
    assert told["pair"]["luminance_contrast"] == pytest.approx(21.0, abs=1e-6)


def test_stock_check_lists_every_fault_and_exits_2(analyser, tmp_path, demo_stock):
    assert analyser("stock", "check", demo_stock).code == 0
    (tmp_path / "bad.csv").write_text(
        "id,name,hex,quantity,unit\nA,a,#12345,1,grams\nB,b,#123456,many,grams\n", encoding="utf-8"
    )
    ended = analyser("stock", "check", "bad.csv", "--json", "-")
    assert ended.code == 2
    told = json.loads(ended.out)
    jsonschema.validate(told, schemas.load("stock check"))
    assert [(fault["row"], fault["column"]) for fault in told["faults"]] == [(2, "hex"), (3, "quantity")]


def test_every_schema_is_a_schema(analyser):
    for verb in schemas.names():
        ended = analyser("schema", *verb.split())
        assert ended.code == 0
        jsonschema.Draft202012Validator.check_schema(json.loads(ended.out))


def test_settings_of_the_folder_hold_and_flags_win(analyser, tmp_path):
    (tmp_path / "analyser.toml").write_text('size = "8/0"\nmotif = "herringbone"\n', encoding="utf-8")
    told = analyser("contrast", "#ffffff", "#000000", "--json", "-").answer("contrast")
    assert told["options"]["size"] == "8/0"
    assert told["options"]["motif"] == "herringbone"
    told = analyser("contrast", "#ffffff", "#000000", "--size", "11/0", "--json", "-").answer("contrast")
    assert told["options"]["size"] == "11/0"


@pytest.mark.parametrize(("text", "says"), [("colour = 3", "colour"), ("top = 'x'", "top"), ("= 1", "TOML")])
def test_a_mistake_in_the_settings_is_told(analyser, tmp_path, text, says):
    (tmp_path / "analyser.toml").write_text(text, encoding="utf-8")
    ended = analyser("contrast", "#ffffff", "#000000")
    assert ended.code == 2
    assert says in ended.err
    assert "analyser.toml" in ended.err


def test_settings_of_many_megabytes_are_refused_at_once(analyser, tmp_path):
    with (tmp_path / "analyser.toml").open("wb") as file:
        file.truncate(80_000_000)
    ended = analyser("count", "--motif", "chenille", "--length", "18cm")
    assert ended.code == 2
    assert "too long for settings" in ended.err
    assert len(ended.err.splitlines()) == 1


def test_version_names_the_libraries(analyser):
    ended = analyser("--version")
    assert ended.code == 0
    assert "numpy" in ended.out
    assert ended.out.startswith("analyser ")


def test_help_needs_no_heavy_import(script):
    done = subprocess.run(
        [script, "--help"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPROFILEIMPORTTIME": "1"},
    )
    assert "numpy" not in done.stderr
    assert "colourway" in done.stdout


def test_a_device_is_written_to_and_never_replaced_by_a_file(analyser, demo_stock):
    before = Path(os.devnull).stat().st_mode
    ended = analyser("match", "#cb6959", "--stock", demo_stock, "--json", os.devnull)
    assert (ended.code, ended.out) == (0, "")
    assert Path(os.devnull).stat().st_mode == before


def test_nothing_is_booked_where_the_answer_cannot_be_written(analyser, demo_stock, tmp_path):
    stock = tmp_path / "box.csv"
    stock.write_bytes(demo_stock.read_bytes())
    ended = analyser(
        "stock",
        "use",
        stock,
        "--accent",
        "coral-dusk",
        "--body",
        "teal-deep",
        "--json",
        "no/such/answer.json",
    )
    assert ended.code == 2
    assert stock.read_bytes() == demo_stock.read_bytes()
    assert [path.name for path in tmp_path.iterdir()] == ["box.csv"]


def full(script, folder, *arguments):
    """Runs the command with standard output on a device that is full."""
    with Path("/dev/full").open("w") as device:
        return subprocess.run(
            [script, *map(str, arguments)], stdout=device, stderr=subprocess.PIPE, text=True, check=False,
            cwd=folder, timeout=120, env={**os.environ, "XDG_CONFIG_HOME": str(folder / "config")},
        )  # fmt: skip


needs_full_device = pytest.mark.skipif(not Path("/dev/full").exists(), reason="there is no /dev/full here")


@pytest.fixture
def booking(demo_stock, tmp_path):
    """Arguments that book a piece out of a copy of the demo stock, which lies at the third."""
    (tmp_path / "stock.csv").write_bytes(demo_stock.read_bytes())
    return "stock", "use", "stock.csv", "--accent", "coral-dusk", "--body", "teal-deep", "--length", "10cm"


@needs_full_device
@pytest.mark.parametrize("more", [(), ("--json", "-")])
def test_an_answer_that_cannot_be_written_is_told_in_a_line(script, demo_stock, tmp_path, more):
    ended = full(script, tmp_path, "match", "#336699", "--stock", demo_stock, *more)
    assert ended.returncode == 2
    (line,) = ended.stderr.splitlines()
    assert "standard output cannot be written (No space left on device)" in line


@needs_full_device
@pytest.mark.parametrize("more", [(), ("--json", "-")])
def test_what_is_booked_never_ends_as_a_failure(script, demo_stock, tmp_path, booking, more):
    ended = full(script, tmp_path, *booking, *more)
    assert ended.returncode == 0
    assert "it is done" in ended.stderr
    assert (tmp_path / "stock.csv").read_bytes() != demo_stock.read_bytes()


def test_signs_that_the_terminal_lacks_stop_nothing(analyser, booking):
    ended = analyser(*booking, env={"PYTHONIOENCODING": "ascii"})
    assert ended.code == 0, ended.err
    assert "booked out" in ended.out


@pytest.mark.parametrize("more", [(), ("--json", "-"), ("--json", "answer.json")])
def test_a_name_that_is_no_text_is_only_a_name(script, samples, tmp_path, more):
    name = os.fsencode(tmp_path) + b"/scarf-\xff.jpg"
    Path(os.fsdecode(name)).write_bytes((samples / "outfit-scarf.jpg").read_bytes())
    ended = subprocess.run(
        [os.fsencode(script), b"palette", name, *map(os.fsencode, more)], cwd=tmp_path,
        capture_output=True, timeout=120, check=False, env={**os.environ, "PYTHONUTF8": "1"},
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    if more:
        written = (tmp_path / "answer.json").read_bytes() if more[1] != "-" else ended.stdout
        assert json.loads(written)["photo"]["file"].endswith("scarf-?.jpg")
