"""The OpenAPI description is true: whatever fits it, or nearly, is answered without a failure of ours."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import schemathesis
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, settings

from analyser.web.app import make_app
from analyser.web.guard import Keys

DEMO_STOCK = Path(__file__).resolve().parents[2] / "palettes" / "demo-stock.csv"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory, keys: Keys) -> Iterator[TestClient]:
    """An application of its own: what is asked here may forget every photo of it."""
    stock_file = tmp_path_factory.mktemp("asked") / "stock.csv"
    shutil.copy(DEMO_STOCK, stock_file)
    app = make_app(stock_file, keys=keys)
    with TestClient(app, base_url="http://127.0.0.1", headers={"X-Page-Token": keys.page}) as client:
        yield client


def schema_of(page: TestClient):
    return schemathesis.openapi.from_dict(page.get("/openapi.json").json())


def test_no_request_makes_the_server_fail(page: TestClient, keys: Keys):
    schema = schema_of(page)
    tried = 0
    for result in schema.get_all_operations():
        operation = result.ok()

        @settings(
            max_examples=6, deadline=None, database=None, derandomize=True,
            suppress_health_check=list(HealthCheck),
        )  # fmt: skip
        @schemathesis_given(operation)
        def no_5xx(case):
            answer = page.request(**request_of(case, keys))
            assert answer.status_code < 500, (case.method, answer.url, answer.text)
            if answer.status_code >= 400 and case.method != "HEAD":
                assert "\n" not in answer.json()["error"]["says"]

        no_5xx()
        tried += 1
    assert tried >= 20


def schemathesis_given(operation):
    from hypothesis import given

    return given(case=operation.as_strategy())


def request_of(case, keys: Keys) -> dict:
    """The case as the client sends it, from this page."""
    sent = case.as_transport_kwargs(base_url="http://127.0.0.1")
    headers = {**dict(sent.get("headers") or {}), "X-Page-Token": keys.page}
    wanted = {k: sent[k] for k in ("method", "url", "params", "json", "data", "content") if k in sent}
    if "data" in wanted:
        wanted["content"] = wanted.pop("data")
    return {**wanted, "headers": headers}


def test_the_description_names_every_path_and_its_refusals(page: TestClient):
    told = page.get("/openapi.json").json()
    assert "/api/photos/{photo}/wishes" in told["paths"]
    for path, methods in told["paths"].items():
        for method in methods.values():
            assert {"403", "413", "422"} <= method["responses"].keys(), path
