"""Every verb with options that makers mistype and nobody means: an answer or one line, no traceback.

Each option takes what fits it about half the time, so that the jobs behind it are reached too. `serve`
waits and `batch` starts processes; they have tests of their own.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import numpy as np
import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st
from PIL import Image

from analyser.cli.main import command, exit_code

ROOT = Path(__file__).resolve().parents[2]
NOT_TRIED = {"serve", "batch"}
ODD = [
    *("", " ", "-", "--", "0", "-1", "1", "2.5", "9" * 30, "1e308", "-1e308", "nan", "inf", "NaN", "x", "é"),
    *("18cm", "0cm", "-3cm", "9999999cm", "1e-9mm", "7in", "18", "1,8cm", "nan cm", "11/0", "4mm", "0/0"),
    *("middle", "0,0,10,10", "10%,10%,50%,50%", "0,0,0,0", "-5,-5,9,9", "1e9,0,1,1", "0,0,10,10:grey"),
    *("0,0,10,10:nan", "a,b,c,d", "#37575b", "fff", "lab:50,0,0", "lab:nan,0,0", "lab:1e9,0,0", "#12", "10%"),
    *("-5%", "999%", "20 rounds in 3cm", "0 rounds in 3cm", "b1", "B1", "b1=20", "C=b1", "=x", "A=", "b1,b2"),
    *("b1:b2", "@b1", "=1+1", "\u202e", "\x1b[2J", "a\nb", "\udcff", "a" * 5000, "sheet=beads"),
    *("--help", "chenille", "list.csv", "1/0"),
]
FILES = ["list.csv", "photo.png", "plan.toml", "motif.toml", "names.txt", "missing.csv", ".", "", "/dev/null"]
FITTING = {
    "motif": ["chenille", "spiral", "motif.toml"], "length": ["18cm", "190mm"], "wrist": ["16cm"],
    "neck": ["40cm"], "size": ["11/0", "8/0", "4mm"], "accent": ["b1", "#a03050"], "body": ["b2", "#37575b"],
    "third": ["b3"], "stock": ["list.csv", "é.csv"], "file": ["list.csv"], "into": ["list.csv", "new.csv"],
    "photo": ["photo.png"], "photos": ["photo.png"], "mask": ["photo.png"], "plan": ["plan.toml"],
    "names": ["names.txt", "b1,b2"], "colours": ["5", "#37575b"], "gauge": ["20 rounds in 3cm"],
    "kits": ["2"], "kept": ["quay"], "name": ["Quay"], "fade": ["b1:b2", "B=b1:b2"], "colourway": ["1"],
    "from_rope": ["photo.png"], "learn": ["photo.png"], "focus": ["middle"], "spare": ["10%"], "top": ["3"],
    "keep": ["Quay"], "worn_on": ["#37575b", "middle"], "verb": ["count"], "role": ["A=b1"],
    "rounds": ["40"], "bead": ["b1"], "take": ["dates=size"],
}  # fmt: skip
NEEDED = {
    ("audit",): ["photo.png"], ("palette",): ["photo.png"], ("motif", "show"): ["chenille"],
    ("colourway",): ["photo.png", "--stock", "list.csv"], ("match",): ["#37575b", "--stock", "list.csv"],
    ("contrast",): ["b1", "b2", "--stock", "list.csv"],
    ("count",): ["--motif", "chenille", "--length", "18cm"],
    ("kept", "list"): ["--stock", "list.csv"], ("stock", "check"): ["list.csv"],
    ("stock", "add"): ["photo.png", "--into", "list.csv"], ("stock", "undo"): ["list.csv"],
    ("stock", "use"): ["list.csv", "--motif", "chenille", "--length", "9cm", "--accent", "b1", "--body",
        "b2"],
}  # fmt: skip
TYPED = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=5)
PLAN = '[[stretch]]\nshare = 0.5\nbody = "b2"\n[[stretch]]\nbody = "b3"\n'


def leaves(
    here: click.Command, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], click.Command]]:
    if not isinstance(here, click.Group):
        yield path, here
        return
    context = click.Context(here)
    for name in here.list_commands(context):
        one = here.get_command(context, name)
        if one is not None and name not in NOT_TRIED:
            yield from leaves(one, (*path, name))


VERBS = dict(leaves(command))


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one of each kind of file."""
    folder = tmp_path_factory.mktemp("ready")
    lines = [f"b{n},Bead {n},11/0,#{n}0{n}5{n}b,{n}000,beads" for n in range(1, 8)]
    (folder / "list.csv").write_text("id,name,size,hex,quantity,unit\n" + "\n".join(lines) + "\n")
    (folder / "é.csv").write_text("id,name,size,hex\nb1,Bé,11/0,#102030\n", encoding="cp1252")
    ramp = np.linspace(30, 220, 96).astype(np.uint8)
    pixels = np.dstack(
        [np.tile(ramp, (72, 1)), np.tile(ramp[::-1], (72, 1)), np.full((72, 96), 90, np.uint8)]
    )
    Image.fromarray(pixels).save(folder / "photo.png")
    (folder / "plan.toml").write_text(PLAN)
    shutil.copy(ROOT / "analyser" / "motif" / "motifs" / "chenille.toml", folder / "motif.toml")
    (folder / "names.txt").write_text("one\ntwo\n")
    return folder


@st.composite
def lines(draw: st.DrawFn, most_options: int = 4) -> list[str]:
    """A command line: a verb, its arguments, some of its options."""
    path = draw(st.sampled_from(sorted(VERBS)))
    verb = VERBS[path]
    said = [*path, *(NEEDED.get(path, ()) if draw(st.booleans()) else ())]
    begun = len(said) > len(path)
    options = [one for one in verb.params if isinstance(one, click.Option) and "--version" not in one.opts]
    for option in draw(st.lists(st.sampled_from(options), max_size=most_options)) if options else []:
        said.append(draw(st.sampled_from([*option.opts, *option.secondary_opts])))
        if not option.is_flag:
            said += [draw(values(option)) for _ in range(option.nargs)]
    counts = [0, 0, 0, 1] if begun else [1, 1, 1, 0, 2]
    for argument in verb.params:
        if isinstance(argument, click.Argument):
            said += [draw(values(argument)) for _ in range(draw(st.sampled_from(counts)))]
    return said


def values(parameter: click.Parameter) -> st.SearchStrategy[str]:
    fitting = list(getattr(parameter.type, "choices", FITTING.get(parameter.name or "", ["1"])))
    odd = FILES + ODD if isinstance(parameter.type, click.Path) else ODD
    meant = st.sampled_from(fitting)
    return st.one_of(meant, meant, meant, meant, st.sampled_from(odd), TYPED)


def said_by(arguments: list[str]) -> tuple[int, str, str]:
    """Exit code and both streams of a command; a failure of its own is raised."""
    streams = [io.TextIOWrapper(io.BytesIO(), encoding="utf-8") for _ in range(2)]
    with contextlib.redirect_stdout(streams[0]), contextlib.redirect_stderr(streams[1]):
        code = exit_code([*arguments, "--verbose"])
    for stream in streams:
        stream.flush()
    out, err = (stream.buffer.getvalue().decode("utf-8") for stream in streams)
    return code, out, err


@pytest.fixture
def alone(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    work = tmp_path / "work"
    work.mkdir()
    monkeypatch.chdir(work)
    monkeypatch.setattr(sys, "stdin", io.StringIO())
    return work


@settings(
    deadline=60_000,  # an audit of a busy machine; hangs are what is meant
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(arguments=lines())
def test_any_command_line_ends_well(arguments, ready, alone):
    shutil.rmtree(alone, ignore_errors=True)
    shutil.copytree(ready, alone)
    os.chdir(alone)  # the folder of that name is another one now
    note(repr(arguments))
    code, out, err = said_by(arguments)
    assert code in (0, 2, 3), (code, err)
    assert "Traceback" not in out + err
    if code == 2 and "--json" not in arguments:
        assert err.strip() or out.strip()
    if code == 0 and out.startswith("{"):
        json.loads(out, parse_constant=lambda name: pytest.fail(f"{name} in JSON"))
