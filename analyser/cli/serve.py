"""``analyser serve``: the local page."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analyser.cli.options import options
from analyser.cli.output import remark
from analyser.errors import OptionError

if TYPE_CHECKING:
    from analyser.web.archive import Archive


@click.command()
@options(
    "stock", "port", "lan", "no_browser",
    stock={
        "default": Path("stock.csv"),
        "show_default": True,
        "help": "Your stock list (CSV or XLSX); it stays the truth. Begun at the first bead if not there.",
    },
)  # fmt: skip
@click.option("--quiet", is_flag=True, hidden=True)
@click.option("--verbose", is_flag=True, hidden=True)
def serve(stock_file: Path, port: int, lan: bool, no_browser: bool, quiet: bool, verbose: bool) -> None:
    """Open the local page: the whole job in the browser, on this machine."""
    try:
        import fastapi  # noqa: F401 (is it there?)
        import platformdirs  # noqa: F401 (is it there?)
        import segno  # noqa: F401 (is it there?)
        import uvicorn
    except ImportError as error:
        raise OptionError(
            f"the page needs the extra [web] ({error.name} is missing): "
            "pip install 'rope-colourway-analyser[web]'"
        ) from error
    from analyser.web import connections, network
    from analyser.web.app import make_app
    from analyser.web.guard import Keys

    stock_file = stock_file.resolve()
    network.check_list(stock_file)
    sockets, port = network.sockets(port, lan=lan)
    hosts = ["127.0.0.1", "localhost"]
    outside = network.address() if lan else None
    keys = Keys()

    def invite() -> None:
        if outside is not None:
            click.echo(network.invitation(f"http://{outside}:{port}/?key={keys.once}"))

    if outside is not None:
        hosts.append(outside)
        keys.on_used = invite
    here = f"http://127.0.0.1:{port}/"
    click.echo(f"The page is at {here} (Ctrl-C ends it)")
    invite()
    if not no_browser:
        remark("opening it in your browser")
        network.open_soon(here)
    config = uvicorn.Config(
        make_app(stock_file, hosts=hosts, keys=keys, lan=lan, archive=_archive(stock_file)),
        log_level="info" if verbose else "warning",
        server_header=False,
        access_log=verbose,
        http=connections.Connection,
        timeout_graceful_shutdown=2,
    )
    for name in ("uvicorn.error", "uvicorn.access"):
        logging.getLogger(name).addFilter(connections.SmallLog())
    uvicorn.Server(config).run(sockets=sockets)


def _archive(stock_file: Path) -> Archive | None:
    """Where this user's photos are kept between runs; None, with a remark, where nothing can be."""
    import platformdirs

    from analyser.web.archive import Archive

    try:
        return Archive(platformdirs.user_data_path("analyser", appauthor=False) / "page", stock_file)
    except OptionError as error:
        remark(f"{error}; photos and answers go when this ends")
        return None
