"""Where the page listens, and how a phone is let in."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
import webbrowser
from pathlib import Path

from analyser.errors import OptionError, StockError


def check_list(path: Path) -> None:
    """See that the list can be read, or begun.

    Raises
    ------
    StockError
        If it is no stock list, or its folder is missing.
    """
    from analyser.stock.list import stock_list

    if path.exists():
        stock_list.check(path)  # faults are shown on the page; a file that is no list is refused here
    elif not path.parent.is_dir():
        raise StockError(f"{path}: there is no folder {path.parent}")


def sockets(port: int, *, lan: bool) -> tuple[list[socket.socket], int]:
    """Listening sockets, on this machine alone unless ``lan``, and the port they have.

    Raises
    ------
    OptionError
        If the port is taken.
    """
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind(("0.0.0.0" if lan else "127.0.0.1", port))
    except OSError as error:
        made.close()
        raise OptionError(
            f"port {port} cannot be used ({error.strerror}); give another with --port, or 0 for a free one"
        ) from error
    made.listen(64)
    return [made], int(made.getsockname()[1])


def address() -> str:
    """The address of this machine in the network; no packet is sent to find it.

    Raises
    ------
    OptionError
        If there is no network.
    """
    with contextlib.closing(socket.socket(socket.AF_INET, socket.SOCK_DGRAM)) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # TEST-NET-1 (RFC 5737): only picks the outgoing interface
        except OSError as error:
            raise OptionError("this machine is in no network; leave --lan out") from error
        return str(probe.getsockname()[0])


def invitation(link: str) -> str:
    """The address and its QR code as text, with what to know about it."""
    import io

    import segno

    drawn = io.StringIO()
    segno.make(link, error="m").terminal(drawn, compact=True)
    return (
        f"{drawn.getvalue()}\nFrom your phone, once: {link}\n"
        "The way is not encrypted: use it only in a network you trust. "
        "A new code follows when this one is used."
    )


def open_soon(link: str) -> None:
    """Open the page once the server answers."""

    def wait() -> None:
        for _ in range(100):
            host, port = link.removeprefix("http://").rstrip("/").split(":")
            with contextlib.suppress(OSError), socket.create_connection((host, int(port)), timeout=1):
                webbrowser.open(link)
                return
            time.sleep(0.1)

    threading.Thread(target=wait, daemon=True).start()
