"""Any JSON to any route of the page: an answer or a refusal in one line, never a failure of ours."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from analyser.web.app import make_app
from analyser.web.guard import Keys
from tests.fuzz.broken import TEXTS

DEMO_STOCK = Path(__file__).resolve().parents[2] / "palettes" / "demo-stock.csv"
WORDS = [
    "accent",
    "body",
    "colours",
    "length",
    "motif",
    "size",
    "rows",
    "id",
    "hex",
    "18cm",
    "chenille",
    "sea",
]
LEAF = st.one_of(TEXTS, st.sampled_from(WORDS), st.none(), st.booleans(), st.integers(), st.floats())
JSON = st.recursive(
    LEAF,
    lambda some: st.lists(some, max_size=4) | st.dictionaries(st.sampled_from(WORDS) | TEXTS, some),
    max_leaves=12,
)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    stock_file = tmp_path_factory.mktemp("fuzzed") / "stock.csv"
    shutil.copy(DEMO_STOCK, stock_file)
    keys = Keys()
    app = make_app(stock_file, keys=keys)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Page-Token": keys.page}) as client:
        yield client


@pytest.fixture(scope="module")
def routes(page: TestClient) -> list[tuple[str, str, list[str]]]:
    """Method, path and the fields of its body of each route that changes something."""
    told = page.get("/openapi.json").json()
    found = []
    for path, methods in told["paths"].items():
        for method, about in methods.items():
            if method == "get":
                continue
            body = (
                about.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema", {})
            )
            named = body.get("$ref", "").rpartition("/")[2]
            fields = told["components"]["schemas"].get(named, {}).get("properties", {})
            found.append((method.upper(), path, sorted(fields)))
    assert len(found) >= 10
    return found


@settings(
    deadline=20_000,
    suppress_health_check=[
        HealthCheck.function_scoped_fixture,
        HealthCheck.too_slow,
        HealthCheck.data_too_large,
    ],
)
@given(data=st.data())
def test_any_json_is_answered(data, page, routes):
    method, path, fields = data.draw(st.sampled_from(routes))
    path = re.sub(
        r"\{[^}]*\}", lambda _: data.draw(st.sampled_from(["0", "x", "..", "%00", "a" * 300])), path
    )
    body = data.draw(
        st.dictionaries(st.sampled_from(fields), JSON) if fields and data.draw(st.booleans()) else JSON
    )
    note(f"{method} {path} {body!r}")
    answer = page.request(
        method, path, content=json.dumps(body).encode(), headers={"Content-Type": "application/json"}
    )
    assert answer.status_code < 500, answer.text
    if answer.status_code >= 400:
        assert "\n" not in answer.json()["error"]["says"]
