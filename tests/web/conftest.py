"""The page's application in this process, with a copy of the demo stock."""

from __future__ import annotations

import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from analyser.web.app import make_app
from analyser.web.guard import Keys

ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"


@pytest.fixture(scope="session")
def keys() -> Keys:
    return Keys()


@pytest.fixture(scope="session")
def stock_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("stock") / "stock.csv"
    shutil.copy(ROOT / "palettes" / "demo-stock.csv", path)
    return path


@pytest.fixture(scope="session")
def page(stock_file: Path, keys: Keys) -> Iterator[TestClient]:
    """The application, started once: its workers take a second to load."""
    app = make_app(stock_file, keys=keys)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Page-Token": keys.page}) as client:
        yield client


@pytest.fixture
def whole_list(stock_file: Path) -> Iterator[bytes]:
    """The list as it is; put back afterwards."""
    before = stock_file.read_bytes()
    yield before
    stock_file.write_bytes(before)


@pytest.fixture
def add(page: TestClient) -> Callable[..., dict[str, Any]]:
    """Adds a file and waits until the work on it rests."""

    def added(data: bytes, name: str, use: str = "colourway") -> dict[str, Any]:
        answer = page.post(f"/api/photos?use={use}", content=data, headers={"X-File-Name": name})
        assert answer.status_code == 201, answer.text
        photo = answer.json()["id"]
        deadline = time.monotonic() + 100
        told: dict[str, Any] = page.get(f"/api/photos/{photo}").json()
        while told["state"] in ("waiting", "working") and time.monotonic() < deadline:
            told = page.get(f"/api/photos/{photo}?seen={told['version']}").json()
        return told

    return added


@pytest.fixture(scope="session")
def scarf(page: TestClient) -> str:
    """Id of a photo whose colourway is done."""
    data = (SAMPLES / "outfit-scarf.jpg").read_bytes()
    photo: str = page.post("/api/photos", content=data, headers={"X-File-Name": "scarf.jpg"}).json()["id"]
    told = page.get(f"/api/photos/{photo}").json()
    while told["state"] in ("waiting", "working"):
        told = page.get(f"/api/photos/{photo}?seen={told['version']}").json()
    assert told["state"] == "done", told["says"]
    return photo
