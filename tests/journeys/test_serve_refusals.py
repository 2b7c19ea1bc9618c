"""The served page from outside a browser: floods, phones, and the ways it ends."""

from __future__ import annotations

import contextlib
import json
import os
import re
import resource
import signal
import socket
import subprocess
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest


@pytest.fixture
def served(script: str, demo_stock: Path, tmp_path: Path) -> Callable[..., object]:
    stock = tmp_path / "stock.csv"
    stock.write_bytes(demo_stock.read_bytes())

    @contextmanager
    def serving(*more: str) -> Iterator[tuple[subprocess.Popen[str], int, str]]:
        server = subprocess.Popen(
            [script, "serve", "--stock", str(stock), "--port", "0", "--no-browser", *more],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=tmp_path,
            env={
                **os.environ, "XDG_CONFIG_HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path),
                "PYTHONUNBUFFERED": "1",
            },
            # A test run in the background has Ctrl-C ignored, and hands that on.
            preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
        )  # fmt: skip
        assert server.stdout
        first = server.stdout.readline()
        port = int(re.search(r":(\d+)/", first)[1])  # type: ignore[index]  # no match fails the test
        try:
            yield server, port, first
        finally:
            if server.poll() is None:
                server.send_signal(signal.SIGINT)
            server.communicate(timeout=60)

    return serving


def test_a_stream_of_two_gigabytes_is_refused_in_a_line(served):
    with served() as (_, port, _), socket.create_connection(("127.0.0.1", port), timeout=60) as wire:
        host = f"127.0.0.1:{port}".encode()
        wire.sendall(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n")
        page = b"".join(iter(lambda: wire.recv(65536), b""))
        token = re.search(rb'page-token" content="([^"]+)"', page)[1]
        wire = socket.create_connection(("127.0.0.1", port), timeout=60)
        wire.sendall(
            b"POST /api/photos HTTP/1.1\r\nHost: " + host + b"\r\nX-Page-Token: " + token
            + b"\r\nTransfer-Encoding: chunked\r\n\r\n"
        )  # fmt: skip
        block = b"\xff\xd8\xff" + bytes(2**20 - 3)
        sent = 0
        try:
            while sent < 2 * 2**30:
                wire.sendall(b"100000\r\n" + block + b"\r\n")
                sent += len(block)
        except (BrokenPipeError, ConnectionResetError):
            pass
        assert sent < 256 * 2**20  # it was cut off soon after the limit of 80 MB
        wire.close()
        # And the page goes on.
        with socket.create_connection(("127.0.0.1", port), timeout=60) as again:
            again.sendall(b"GET /api/photos HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n")
            told = b"".join(iter(lambda: again.recv(65536), b""))
        assert told.endswith(b'{"photos":[]}')


@pytest.fixture
def many_files() -> Iterator[None]:
    """Lets this process open as many files as it may."""
    held = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(held[1], 4096), held[1]))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, held)


def test_half_sent_requests_stop_the_page_for_nobody(served, many_files):
    """1,200 connections never finish their request's head: the page answers others, and ends them."""
    with served() as (server, port, _), contextlib.ExitStack() as opened:
        host = f"127.0.0.1:{port}".encode()
        wires = []
        for _ in range(1200):
            wire = opened.enter_context(socket.create_connection(("127.0.0.1", port), timeout=60))
            with contextlib.suppress(ConnectionError):
                wire.sendall(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\nX-Slow: ")
            wires.append(wire)
        # Another visitor, told by its address; 127.0.0.2 is this machine too, but brings no key.
        with socket.create_connection(("127.0.0.1", port), 30, ("127.0.0.2", 0)) as visitor:
            visitor.sendall(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n")
            told = b"".join(iter(lambda: visitor.recv(65536), b""))
        assert b" 403 " in told.split(b"\r\n")[0]
        for wire in wires:
            with contextlib.suppress(ConnectionError):
                while wire.recv(4096):  # within its time-out, or this raises
                    pass
        assert server.poll() is None


def test_a_broken_upload_leaves_no_traceback(served):
    with served() as (server, port, _):
        host = f"127.0.0.1:{port}".encode()
        with socket.create_connection(("127.0.0.1", port), timeout=60) as wire:
            wire.sendall(b"GET / HTTP/1.1\r\nHost: " + host + b"\r\nConnection: close\r\n\r\n")
            page = b"".join(iter(lambda: wire.recv(65536), b""))
        token = re.search(rb'page-token" content="([^"]+)"', page)[1]
        for _ in range(5):
            with socket.create_connection(("127.0.0.1", port), timeout=60) as wire:
                wire.sendall(
                    b"POST /api/photos HTTP/1.1\r\nHost: " + host + b"\r\nX-Page-Token: " + token
                    + b"\r\nContent-Length: 100000\r\n\r\n\xff\xd8\xff" + bytes(1000)
                )  # fmt: skip
                time.sleep(0.2)
        time.sleep(0.5)
        server.send_signal(signal.SIGINT)
        assert server.stderr
        assert "Traceback" not in server.stderr.read()


def asked(port: int, path: str, data: bytes | None = None, token: str = "") -> bytes:
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", data)
    request.add_header("X-Page-Token", token)
    request.add_header("X-File-Name", "scarf.jpg")
    with urllib.request.urlopen(request, timeout=60) as answer:
        told: bytes = answer.read()
    return told


def test_a_photo_and_its_answer_are_there_after_the_page_was_killed(served, samples):
    with served() as (server, port, _):
        token = re.search(r'page-token" content="([^"]+)"', asked(port, "/").decode())[1]
        data = (samples / "outfit-scarf.jpg").read_bytes()
        photo = json.loads(asked(port, "/api/photos", data, token))["id"]
        told = json.loads(asked(port, f"/api/photos/{photo}"))
        while told["state"] in ("waiting", "working"):
            told = json.loads(asked(port, f"/api/photos/{photo}?seen={told['version']}"))
        assert told["state"] == "done"
        answer = asked(port, f"/api/photos/{photo}/answer.json")
        server.kill()
    with served() as (_, port, _):
        (listed,) = json.loads(asked(port, "/api/photos"))["photos"]
        assert (listed["id"], listed["state"], listed["name"]) == (photo, "done", "scarf.jpg")
        assert json.loads(asked(port, f"/api/photos/{photo}/answer.json")) == json.loads(answer)
        assert asked(port, f"/api/photos/{photo}/picture").startswith(b"\xff\xd8")
        assert b"stay on this machine for 30 days" in asked(port, "/")


def test_without_lan_only_this_machine_is_listened_to(served):
    with served() as (_, port, first):
        assert f"http://127.0.0.1:{port}/" in first
        rows = Path("/proc/net/tcp")
        if not rows.exists():
            pytest.skip("where sockets listen is read from /proc")
        mine = [row.split() for row in rows.read_text().splitlines() if f":{port:04X} " in row]
        assert {row[1] for row in mine if row[3] == "0A"} == {f"0100007F:{port:04X}"}


def test_ctrl_c_ends_it_and_its_workers(served):
    with served() as (server, _, _):
        folder = Path(f"/proc/{server.pid}/task/{server.pid}/children")
        workers = folder.read_text().split() if folder.exists() else []
        server.send_signal(signal.SIGINT)
        server.wait(timeout=60)
        assert not [worker for worker in workers if Path(f"/proc/{worker}").exists()]


def test_a_file_that_is_no_list_is_told_in_a_line(analyser, tmp_path):
    (tmp_path / "photo.csv").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(90))
    ended = analyser("serve", "--stock", "photo.csv", "--no-browser")
    assert ended.code == 2
    assert "photo.csv" in ended.err
    assert ended.err.count("\n") == 1


def test_a_taken_port_is_told_in_a_line(analyser, demo_stock):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        ended = analyser("serve", "--stock", demo_stock, "--port", str(port), "--no-browser")
    assert ended.code == 2
    assert f"port {port} cannot be used" in ended.err
