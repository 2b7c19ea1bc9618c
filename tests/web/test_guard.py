"""Who may ask, from which page, and what a page may load."""

from __future__ import annotations

from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from analyser.web.app import make_app
from analyser.web.guard import COOKIE, Keys


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "", "a@127.0.0.1", "127.0.0.1/x", "[", "[::1"]
)
def test_a_name_that_only_resolves_here_is_not_answered(page, host):
    told = page.get("/", headers={"Host": host})
    assert told.status_code == 421
    assert told.json()["error"]["kind"] == "host"


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8600", "localhost:1", "[::1]:8600"])
def test_the_machines_own_names_are_answered(page, host):
    assert page.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"X-Page-Token": "wrong"},
        {"X-Page-Token": ""},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "https://127.0.0.1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_change_must_come_from_this_page(page, headers):
    told = page.post("/api/stock/undo", headers=headers)
    assert told.status_code == 403
    assert "did not come from this page" in told.json()["error"]["says"]


def test_a_change_from_this_page_is_heard(page):
    told = page.post(
        "/api/stock/undo", headers={"Origin": "http://127.0.0.1", "Sec-Fetch-Site": "same-origin"}
    )
    assert told.status_code == 409  # nothing to undo


def test_no_page_may_load_or_run_anything_from_elsewhere(page):
    for address in ("/", "/pair", "/ropes", "/drawer", "/photo/none"):
        told = page.get(address)
        policy = told.headers["content-security-policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        assert "http" not in told.text.replace("http://www.w3.org", "")
        assert "<script>" not in told.text
        assert "style=" not in told.text


def test_a_body_that_says_it_is_too_large_is_refused_unread(page):
    told = page.post("/api/photos", content=b"x", headers={"Content-Length": str(2 * 2**30)})
    assert told.status_code == 413
    assert told.json()["error"]["says"].startswith("larger than the 80 MB")


def test_a_body_that_grows_too_large_is_refused(stock_file: Path):
    keys = Keys()
    with TestClient(make_app(stock_file, keys=keys, upload_mb=0.1), base_url="http://127.0.0.1") as client:
        head = {"X-Page-Token": keys.page}
        told = client.post("/api/photos", content=iter([b"\xff\xd8\xff" + bytes(60_000)] * 4), headers=head)
        assert told.status_code == 413
        assert not [p for p in client.app.state.shared.photos._folder.rglob("*") if p.is_file()]


class TestFromTheNetwork:
    @pytest.fixture
    def phone(self, stock_file: Path):
        keys = Keys()
        app = make_app(stock_file, keys=keys, hosts=("127.0.0.1", "10.0.0.7"), lan=True)
        with TestClient(
            app, base_url="http://10.0.0.7:8600", client=("10.0.0.9", 5555), follow_redirects=False
        ) as client:
            yield client, keys

    def test_without_the_key_nothing_is_shown(self, phone):
        client, _ = phone
        for address in ("/", "/drawer", "/api/stock", "/static/kit.js", "/?key=guess"):
            assert client.get(address).status_code == 403

    def test_the_key_opens_once(self, phone):
        client, keys = phone
        key = keys.once
        told = client.get(f"/?key={key}")
        assert told.status_code == 303
        assert "HttpOnly" in told.headers["set-cookie"]
        assert "SameSite=Strict" in told.headers["set-cookie"]
        assert client.get("/").status_code == 200  # the cookie is kept
        client.cookies.clear()
        assert client.get(f"/?key={key}").status_code == 403
        assert client.get(f"/?key={keys.once}").status_code == 303  # the next phone's

    def test_a_wrong_cookie_does_not(self, phone):
        client, _ = phone
        client.cookies.set(COOKIE, "guess")
        assert client.get("/").status_code == 403

    def test_the_page_says_that_the_way_is_not_encrypted(self, phone):
        client, keys = phone
        client.get(f"/?key={keys.once}")
        assert "not encrypted" in client.get("/").text
