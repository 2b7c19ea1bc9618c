"""The same answers wherever it runs: no locale, no home, another encoding, folders with any letters."""

from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

import pytest
from PIL import Image

PLAIN_C = {"LC_ALL": "C", "LANG": "C"}
PLACES = {
    "c-locale": PLAIN_C,
    "cp1252": {"PYTHONIOENCODING": "cp1252"},
    "no-home": {"HOME": None, "XDG_CONFIG_HOME": None, "XDG_DATA_HOME": None, "XDG_CACHE_HOME": None},
    "home-that-is-not-there": {"HOME": "/no/such/home", "XDG_CONFIG_HOME": None, "XDG_DATA_HOME": None},
    # As where Python may not mend the locale by itself (PEP 538, PEP 540).
    "ascii": {**PLAIN_C, "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
}
VERBS = {
    "palette": ("palette", "Ärmel 川.jpg"),
    "match": ("match", "#cb6959", "--stock", "Kästchen 🧵.csv"),
    "check": ("stock", "check", "Kästchen 🧵.csv"),
    "count": ("count", "--motif", "chenille", "--length", "18cm"),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory, samples, demo_stock) -> Path:
    """A folder, a photo and a list with letters that few code pages have; the list as Windows saves it."""
    folder = tmp_path_factory.mktemp("Zürich 川 🧵")
    with Image.open(samples / "outfit-scarf.jpg") as picture:
        picture.resize((480, 360)).save(folder / "Ärmel 川.jpg")
    text = demo_stock.read_text(encoding="utf-8").replace("Coral dusk", "Coral dusk “Möwe”")
    (folder / "Kästchen 🧵.csv").write_text(text, encoding="cp1252", newline="\r\n")
    return folder


def ended(script: str, folder: Path, *arguments: str, **more: str | None) -> tuple[int, bytes]:
    """Exit code and standard error of a command."""
    known = {**os.environ, **more}
    done = subprocess.run(
        [script, *arguments],
        capture_output=True, cwd=folder, timeout=120, check=False,
        env={name: value for name, value in known.items() if value is not None},
    )  # fmt: skip
    return done.returncode, done.stderr


@pytest.mark.skipif(os.name == "nt", reason="these are environments of POSIX systems")
@pytest.mark.parametrize("verb", VERBS)
def test_the_answer_is_the_same_everywhere(script, folder, verb):
    file = folder / "answer.json"
    assert ended(script, folder, *VERBS[verb], "--json", file.name)[0] == 0
    usual = file.read_bytes()
    for place, environment in PLACES.items():
        file.unlink()
        assert ended(script, folder, *VERBS[verb], "--json", file.name, **environment)[0] == 0, place
        other, wanted = file.read_bytes(), usual
        if place == "ascii":  # there a file's name is told with a question mark for each byte that is no text
            other, wanted = (re.sub(rb"[\x80-\xff]", b"?", one) for one in (other, usual))
        assert other == wanted, place
    for place in ("cp1252", "ascii"):  # what is printed
        code, says = ended(script, folder, *VERBS[verb], **PLACES[place])
        assert (code, b"Traceback" in says) == (0, False), place
