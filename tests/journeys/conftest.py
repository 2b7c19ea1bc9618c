"""The installed command, run as a maker runs it: a process of its own, in a folder of its own."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from analyser.report import schemas

ROOT = Path(__file__).resolve().parents[2]


def own_folders(folder: Path, **more: str) -> dict[str, str]:
    """The environment with no settings and no data of the user."""
    return {
        **os.environ, "XDG_CONFIG_HOME": str(folder / "config"), "XDG_DATA_HOME": str(folder / "data"), **more
    }  # fmt: skip


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str

    def answer(self, verb: str) -> dict[str, Any]:
        """The JSON on standard output, checked against the schema the package ships."""
        assert self.code == 0, self.err
        told: dict[str, Any] = json.loads(
            self.out, parse_constant=lambda name: pytest.fail(f"{name} in JSON")
        )
        jsonschema.validate(told, schemas.load(verb), cls=jsonschema.Draft202012Validator)
        return told


@pytest.fixture(scope="session")
def script() -> str:
    """The console script of the environment the tests run in."""
    found = shutil.which("analyser", path=str(Path(sys.executable).parent))
    assert found, "the package is not installed: pip install -e '.[test]'"
    return found


@pytest.fixture
def analyser(script: str, tmp_path: Path) -> Callable[..., Ended]:
    """Runs the command in an empty folder, with no settings of the user."""

    def run(*arguments: str | Path, env: dict[str, str] | None = None) -> Ended:
        done = subprocess.run(
            [script, *map(str, arguments)],
            capture_output=True,
            text=True,
            encoding="utf-8",
            cwd=tmp_path,
            timeout=120,
            check=False,
            env={
                **os.environ,
                "XDG_CONFIG_HOME": str(tmp_path / "config"),
                "XDG_DATA_HOME": str(tmp_path / "data"),
                **(env or {}),
            },
        )
        return Ended(done.returncode, done.stdout, done.stderr)

    return run


@pytest.fixture(scope="session")
def samples() -> Path:
    return ROOT / "samples"


@pytest.fixture(scope="session")
def demo_stock() -> Path:
    return ROOT / "palettes" / "demo-stock.csv"
