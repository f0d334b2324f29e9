"""Show a folder's pages in the browser, on this machine only, until stopped by hand."""

from __future__ import annotations

import threading
import webbrowser
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import unquote, urlsplit

import click

from witnessmark.errors import InputError

__all__ = ["PageServer", "page_server", "show_folder"]

HERE = "127.0.0.1"
_PAGES = (".html",)
_LOOK_S = 0.5


class _Pages(SimpleHTTPRequestHandler):
    """Gives out pages and nothing else: no recordings, no owners, no listings."""

    def send_head(self):  # type: ignore[no-untyped-def]
        """Refuse whatever is no page before the folder is looked into."""
        asked = unquote(urlsplit(self.path).path)
        if asked.endswith("/"):
            self.path = asked = asked + "index.html"
        if not asked.endswith(_PAGES):
            self.send_error(404)
            return None
        return super().send_head()

    def end_headers(self) -> None:
        """A page is made anew at every examine: never kept by the browser, never allowed to fetch."""
        self.send_header("Cache-Control", "no-store")
        self.send_header("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; img-src data:")
        super().end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Nobody reads a list of requests."""


class PageServer(ThreadingHTTPServer):
    """Serves one folder's pages."""

    daemon_threads = True

    @property
    def address(self) -> str:
        """Where the first page is."""
        return f"http://{HERE}:{self.server_address[1]}/"


def page_server(folder: Path, *, port: int = 0) -> PageServer:
    """A server for the pages in a folder, listening on this machine only.

    Parameters
    ----------
    folder : Path
    port : int
        0 takes a free one.

    Raises
    ------
    InputError
        If the port is taken.
    """
    try:
        return PageServer((HERE, port), partial(_Pages, directory=str(folder)))
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise InputError(
            f"port {port} cannot be had: {reason}", given=str(port), todo="Name another with --port"
        ) from None


def show_folder(folder: Path, *, port: int = 0) -> None:
    """Open a folder's first page in the browser and serve it until stopped by hand.

    Parameters
    ----------
    folder : Path
    port : int
        0 takes a free one.

    Raises
    ------
    InputError
        If the port is taken.
    """
    with page_server(folder, port=port) as server:
        click.echo(f"Open {server.address} in a browser. Stop with Ctrl-C.")
        # Served from a thread: a browser that lives in this terminal does not come back before it is left.
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        try:
            webbrowser.open(server.address)
            while thread.is_alive():
                thread.join(_LOOK_S)
        except KeyboardInterrupt:
            click.echo("")
        finally:
            server.shutdown()
