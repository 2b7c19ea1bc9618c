"""Connections that cannot hold the page up for others, and a log that stays small."""

from __future__ import annotations

import asyncio
import logging
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

HEADERS_S = 10.0  # a browser sends its request's head at once, a phone on a weak network in seconds
BODY_S = 60.0  # without a byte of an upload
OF_AN_ADDRESS = 32  # a browser opens six
IN_ALL = 256  # a quarter of the files a process may usually open
LOG_BYTES = 2**20


class Connection(H11Protocol):
    """A connection that is closed where its request does not arrive, or where there are too many."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self._closing: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as its base
        """Take a connection, or close it where too many are open."""
        super().connection_made(transport)
        host = self.client[0] if self.client else ""
        same = sum((getattr(one, "client", None) or ("",))[0] == host for one in self.connections)
        if same > OF_AN_ADDRESS or len(self.connections) > IN_ALL:
            self.connections.discard(self)  # at once: the next ones come before it is gone
            transport.abort()
            return
        self._close_in(HEADERS_S)

    def data_received(self, data: bytes) -> None:
        """Read on; the time for a request's head runs from its first byte, that of a body from its last."""
        super().data_received(data)
        arriving = self.cycle is None or self.cycle.response_complete
        if arriving and self._closing is None:
            self._close_in(HEADERS_S)
        elif not arriving:
            self._go_on()
            if self.cycle.more_body:
                self._close_in(BODY_S)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        self._go_on()
        super().connection_lost(exc)

    def _close_in(self, seconds: float) -> None:
        self._closing = self.loop.call_later(seconds, self._late)

    def _go_on(self) -> None:
        if self._closing is not None:
            self._closing.cancel()
            self._closing = None

    def _late(self) -> None:
        self._closing = None
        if self.flow.read_paused and not self.transport.is_closing():
            self._close_in(BODY_S)  # it is we who do not read
        else:
            self.transport.abort()


class SmallLog(logging.Filter):
    """Lets the log grow to a size and says once that it ends there."""

    def __init__(self, most: int = LOG_BYTES) -> None:
        super().__init__()
        self._left = most

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether a message is still written."""
        if self._left <= 0:
            return False
        self._left -= len(record.getMessage()) + 80  # about what time and place take
        if self._left <= 0:
            record.msg, record.args, record.exc_info = "the log ends here: it has grown too long", (), None
        return True
