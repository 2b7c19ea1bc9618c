"""The local page in a storm: uploads at once, slow clients, jobs stopped early, a day in miniature.

A served page of its own is driven from outside. Each upload must be taken or refused in one line, a page
must be answered while others are slow, stopped jobs must leave the page idle, and after the first fifth of
many requests the memory of the server and its workers must stay flat within a tenth. Prints figures; a
breach is told by its word.

    python -m benchmarks.storm [REQUESTS]
"""

from __future__ import annotations

import contextlib
import http.client
import io
import json
import os
import re
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
UPLOADS, SLOW, STOPPED = 200, 24, 40
FLAT = 0.10


class Client:
    """Asks the page, one connection a request; a connection that is closed on us is tried again."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.token = ""
        _, text = self.ask("GET", "/")
        self.token = re.search(r'page-token" content="([^"]+)"', text)[1]

    def ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> tuple[int, str]:
        """Status and text of an answer."""
        for wait in (0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4, None):
            wire = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
            try:
                wire.request(method, path, body or None, {"X-Page-Token": self.token, **headers})
                answer = wire.getresponse()
                return answer.status, answer.read().decode("utf-8", "replace")
            except (ConnectionError, http.client.HTTPException):
                if wait is None:
                    raise
                time.sleep(wait)
            finally:
                wire.close()
        raise AssertionError

    def json(self, method: str, path: str) -> Any:
        """An answer's JSON."""
        return json.loads(self.ask(method, path)[1])

    def idle(self, within_s: float = 300) -> float:
        """Wait until no job is waiting or at work; the seconds that took."""
        began = time.monotonic()
        while any(
            one["state"] in ("waiting", "working") for one in self.json("GET", "/api/photos")["photos"]
        ):
            assert time.monotonic() - began < within_s, "NOT IDLE"
            time.sleep(0.5)
        return time.monotonic() - began


def memory_mb(process: int) -> float:
    """Memory of a process and its children, each page they share counted once (proportional set size)."""
    total = 0.0
    for one in [process, *_children(process)]:
        with contextlib.suppress(OSError):
            told = Path(f"/proc/{one}/smaps_rollup").read_text()
            total += int(re.search(r"Pss:\s+(\d+)", told)[1]) / 1024
    return total


def _children(process: int) -> list[int]:
    with contextlib.suppress(OSError):
        direct = [
            int(one)
            for task in Path(f"/proc/{process}/task").iterdir()
            for one in (task / "children").read_text().split()
        ]
        return direct + [one for child in direct for one in _children(child)]
    return []


def uploads_at_once(client: Client, photo: bytes) -> None:
    """Two hundred browsers send a photo in the same moment."""

    def send(number: int) -> str:
        try:
            status, text = client.ask("POST", "/api/photos", photo, **{"X-File-Name": f"photo{number}.jpg"})
        except (ConnectionError, http.client.HTTPException) as error:
            return f"NO ANSWER ({type(error).__name__})"
        if status == 201:
            return "taken"
        says = json.loads(text)["error"]["says"]
        return f"refused {status}" if "\n" not in says else "REFUSED IN MANY LINES"

    began = time.monotonic()
    with ThreadPoolExecutor(UPLOADS) as pool:
        outcomes = Counter(pool.map(send, range(UPLOADS)))
    print(f"{UPLOADS} uploads at once: {dict(outcomes)} in {time.monotonic() - began:.1f} s")
    began = time.monotonic()
    status, _ = client.ask("GET", "/")
    print(f"  a page meanwhile: {status} in {1000 * (time.monotonic() - began):.0f} ms")
    client.ask("DELETE", "/api/photos")
    print(f"  all forgotten and idle after {client.idle():.1f} s")


def slow_clients(client: Client) -> None:
    """Clients that send a byte a second, as many as an address may have beside a browser."""
    with contextlib.ExitStack() as opened:
        wires = []
        for _ in range(SLOW):
            wires.append(
                opened.enter_context(socket.create_connection(("127.0.0.1", client.port), timeout=30))
            )
            wires[-1].sendall(b"POST /api/photos HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Le")
        times, closed, began = [], 0, time.monotonic()
        while time.monotonic() - began < 14:
            asked = time.monotonic()
            client.ask("GET", "/")
            times.append(1000 * (time.monotonic() - asked))
            for wire in list(wires):
                try:
                    wire.sendall(b"n")
                except ConnectionError:
                    closed += 1
                    wires.remove(wire)
            time.sleep(1)
    pages = f"pages in {statistics.median(times):.0f} ms (most {max(times):.0f})"
    print(f"{SLOW} slow clients: {pages}, {closed} closed")


def stopped_jobs(client: Client, photo: bytes) -> None:
    """Jobs that are stopped, begun again, changed and forgotten as fast as they come."""
    counts: Counter[str] = Counter()
    for number in range(STOPPED):
        status, text = client.ask("POST", "/api/photos", photo, **{"X-File-Name": f"stop{number}.jpg"})
        counts[f"add {status}"] += 1
        if status != 201:
            continue
        one = json.loads(text)["id"]
        for path in ("stop", "again", "stop"):
            counts[f"{path} {client.ask('POST', f'/api/photos/{one}/{path}')[0]}"] += 1
        if number % 2:
            counts[f"forget {client.ask('DELETE', f'/api/photos/{one}')[0]}"] += 1
    print(f"{STOPPED} jobs stopped: {dict(counts)}; idle after {client.idle():.1f} s")
    client.ask("DELETE", "/api/photos")


def day_in_miniature(client: Client, process: int, photo: bytes, requests: int) -> None:
    """Many requests of every kind, with a photo worked on at each thousandth."""
    pages = ["/", "/drawer", "/pair", "/ropes", "/api/photos", "/api/stock", "/openapi.json", "/photo/none"]
    counts: Counter[int] = Counter()
    sizes: list[float] = []
    client.ask("POST", "/api/photos", photo, **{"X-File-Name": "first.jpg"})
    client.idle()
    began = time.monotonic()
    for number in range(requests):
        if number % (requests // 10) == 0:
            _, text = client.ask("POST", "/api/photos", photo, **{"X-File-Name": "day.jpg"})
            client.idle()
            client.ask("DELETE", f"/api/photos/{json.loads(text)['id']}")
            sizes.append(memory_mb(process))
        counts[client.ask("GET", pages[number % len(pages)])[0] // 100 * 100] += 1
    sizes.append(memory_mb(process))
    settled = sizes[2:]
    grown = max(settled) / settled[0] - 1
    told = "flat" if grown <= FLAT else "NOT FLAT"
    took = time.monotonic() - began
    print(f"{requests} requests: {dict(counts)}, {requests / took:.0f} a second")
    most = f"at most {max(settled):.0f} ({grown:+.1%}) after it"
    print(f"  memory {told}: {settled[0]:.0f} MB after a fifth, {most}")


def main(requests: int) -> None:
    """Serve a page, and storm it."""
    folder = Path(tempfile.mkdtemp())
    stream = io.BytesIO()
    with Image.open(ROOT / "samples" / "outfit-scarf.jpg") as sample:
        sample.resize((480, 360)).save(stream, "JPEG", quality=90)
    shutil.copy(ROOT / "palettes" / "demo-stock.csv", folder / "stock.csv")
    command = [sys.executable, "-m", "analyser", "serve", "--stock", str(folder / "stock.csv")]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1", "XDG_DATA_HOME": str(folder)}
    with (folder / "log").open("w") as log:
        server = subprocess.Popen(
            [*command, "--port", "0", "--no-browser"],
            stdout=subprocess.PIPE, stderr=log, text=True, cwd=ROOT, env=environment,
        )  # fmt: skip
    try:
        assert server.stdout
        port = int(re.search(r":(\d+)/", server.stdout.readline())[1])
        client = Client(port)
        uploads_at_once(client, stream.getvalue())
        slow_clients(client)
        stopped_jobs(client, stream.getvalue())
        day_in_miniature(client, server.pid, stream.getvalue(), requests)
        print(f"log: {(folder / 'log').stat().st_size} bytes; load {os.getloadavg()[0]:.1f}")
    finally:
        server.send_signal(signal.SIGTERM)
        server.wait(timeout=30)
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
