"""What every request passes: who asks, from which page, how much is sent, and what a page may load.

A page on this machine can be reached by any other page the browser shows (through a name that resolves to
this machine, or a form that posts here). So the ``Host`` is checked, every change must come from this
page's own origin and carry its token, and no page may load anything from elsewhere.
"""

from __future__ import annotations

import hmac
import json
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import parse_qs, urlsplit

from starlette.requests import ClientDisconnect

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
Asgi = Callable[[MutableMapping[str, Any], Receive, Send], Awaitable[None]]

COOKIE = "analyser-visitor"
TOKEN_HEADER = "x-page-token"
_SAFE = ("GET", "HEAD", "OPTIONS")
_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self'; script-src 'self'; object-src 'none'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
_ELSEWHERE = "this change did not come from this page; reload it and try again"
#: A downloaded report is one file with its styles and pictures inside, and no script.
REPORT_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; sandbox"


@dataclass
class Keys:
    """The secrets of one run of the server.

    Attributes
    ----------
    page : str
        Stands in every page, and must come with every change.
    visitor : str
        Cookie of a visitor from the network who came with a one-time key.
    once : str
        The next one-time key; using it makes a new one.
    """

    page: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    visitor: str = field(default_factory=lambda: secrets.token_urlsafe(24))
    once: str = field(default_factory=lambda: secrets.token_urlsafe(9))
    on_used: Callable[[], None] = lambda: None

    def use(self, key: str) -> bool:
        """Whether it is the one-time key; it then holds no longer."""
        if not hmac.compare_digest(key.encode(), self.once.encode()):
            return False
        self.once = secrets.token_urlsafe(9)
        self.on_used()
        return True


class Guard:
    """ASGI middleware; see the module.

    Parameters
    ----------
    app : ASGI application
    hosts : frozenset of str
        Values of ``Host`` without the port that are answered.
    keys : Keys
    limit_mb : float
        The largest body that is taken.
    """

    def __init__(self, app: Asgi, hosts: frozenset[str], keys: Keys, limit_mb: float) -> None:
        self._app, self._hosts, self._keys = app, hosts, keys
        self._limit = int(limit_mb * 2**20)

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        answer = _Answer(send)
        host = headers.get("host", "")
        if _host_name(host) not in self._hosts:
            await answer.refuse(421, "host", "this page answers only under the address it printed at start")
            return
        if not _loopback(scope) and not self._known(headers):
            key = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
            if scope["method"] == "GET" and scope["path"] == "/" and self._keys.use(key):
                await answer.welcome(self._keys.visitor)
                return
            says = "open the address with its key as printed at start; a key opens the page once"
            await answer.refuse(403, "key", says)
            return
        if scope["method"] not in _SAFE and not self._from_here(headers, scope, host):
            await answer.refuse(403, "origin", _ELSEWHERE)
            return
        too_large = f"larger than the {self._limit // 2**20} MB that are taken at once; send a smaller file"
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > self._limit:
            await answer.refuse(413, "size", too_large)
            return
        counted = 0

        async def within() -> Message:
            nonlocal counted
            message = await receive()
            counted += len(message.get("body", b""))
            if counted > self._limit:
                raise _TooLargeError
            return message

        try:
            await self._app(scope, within, answer)
        except _TooLargeError:
            if not answer.begun:
                await answer.refuse(413, "size", too_large)
        except ClientDisconnect:
            return  # a file that broke off is nobody's fault, and nobody is there to be told

    def _known(self, headers: dict[str, str]) -> bool:
        cookie = SimpleCookie(headers.get("cookie", "")).get(COOKIE)
        return cookie is not None and hmac.compare_digest(cookie.value.encode(), self._keys.visitor.encode())

    def _from_here(self, headers: dict[str, str], scope: MutableMapping[str, Any], host: str) -> bool:
        origin = headers.get("origin")
        if origin is not None and origin != f"{scope['scheme']}://{host}":
            return False
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return False
        return hmac.compare_digest(headers.get(TOKEN_HEADER, "").encode(), self._keys.page.encode())


class _TooLargeError(Exception):
    pass


class _Answer:
    """Sends an application's answer with the headers every answer has."""

    def __init__(self, send: Send) -> None:
        self._send = send
        self.begun = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.begun = True
            held = {name.lower() for name, _ in message.get("headers", [])}
            always = {
                b"content-security-policy": _POLICY.encode(),
                b"x-content-type-options": b"nosniff",
                b"referrer-policy": b"no-referrer",
                b"cross-origin-resource-policy": b"same-origin",
                b"cross-origin-opener-policy": b"same-origin",
                b"cache-control": b"no-store",
            }
            message["headers"] = [
                *message.get("headers", []),
                *((name, value) for name, value in always.items() if name not in held),
            ]
        await self._send(message)

    async def refuse(self, status: int, kind: str, says: str) -> None:
        body = json.dumps({"schema": 1, "error": {"kind": kind, "says": says}}).encode()
        headers = [
            (b"content-type", b"application/json"),
            (b"content-length", str(len(body)).encode()),
            (b"connection", b"close"),  # what is still on its way is not waited for
        ]
        await self({"type": "http.response.start", "status": status, "headers": headers})
        await self({"type": "http.response.body", "body": body})

    async def welcome(self, visitor: str) -> None:
        cookie = f"{COOKIE}={visitor}; HttpOnly; SameSite=Strict; Path=/"
        headers = [(b"location", b"/"), (b"set-cookie", cookie.encode()), (b"content-length", b"0")]
        await self({"type": "http.response.start", "status": 303, "headers": headers})
        await self({"type": "http.response.body", "body": b""})


def _loopback(scope: MutableMapping[str, Any]) -> bool:
    client = scope.get("client")
    return client is None or client[0] in ("127.0.0.1", "::1", "testclient")


def _host_name(host: str) -> str:
    if not host or "@" in host or "/" in host:
        return ""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:  # half a bracket
        return ""
