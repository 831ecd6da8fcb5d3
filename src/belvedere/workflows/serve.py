"""A small server for one site, on this machine only."""

from __future__ import annotations

import errno
import os
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from io import BytesIO
from pathlib import Path
from typing import Any

from belvedere.foundation import PublishError

HOST = "127.0.0.1"
PORT = 8000

#: Ports that are tried in turn where none was asked for.
_TRIES = 20


class _Handler(SimpleHTTPRequestHandler):
    """Files of one folder: no listings, no log lines."""

    protocol_version = "HTTP/1.1"
    extensions_map = {  # noqa: RUF012 (so declared by the standard library)
        ".css": "text/css; charset=utf-8",
        ".html": "text/html; charset=utf-8",
        ".jpg": "image/jpeg",
        ".js": "text/javascript; charset=utf-8",
        ".json": "application/json; charset=utf-8",
        ".txt": "text/plain; charset=utf-8",
        "": "application/octet-stream",
    }

    def end_headers(self) -> None:
        # A site published again has the same names: let the browser ask each time (RFC 9111,
        # 5.2.2.4); unchanged files cost it one short answer.
        self.send_header("Cache-Control", "no-cache")
        self.send_header("X-Content-Type-Options", "nosniff")
        super().end_headers()

    def list_directory(self, path: str | os.PathLike[str]) -> BytesIO | None:
        self.send_error(404, "File not found")
        return None

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 (named by the library)
        pass


class _Server(ThreadingHTTPServer):
    """Threads end with the server; a visitor who leaves is no error."""

    daemon_threads = True
    allow_reuse_address = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        pass


def make_server(site: Path, port: int | None = None) -> ThreadingHTTPServer:
    """A server for the site at `site`, bound but not yet running.

    Parameters
    ----------
    site
        A folder with an ``index.html``.
    port
        Port on 127.0.0.1; 0 lets the system choose. Without one, the first free port from 8000.

    Raises
    ------
    PublishError
        Where there is no site, or the port is taken.
    """
    if not (site / "index.html").is_file():
        raise PublishError(
            f"{site} holds no site.", "Give the folder that `belvedere publish` wrote."
        )
    folder = str(site.resolve())

    def handle(*args: Any, **kwargs: Any) -> _Handler:
        return _Handler(*args, directory=folder, **kwargs)

    wanted = range(PORT, PORT + _TRIES) if port is None else [port]
    for number in wanted:
        try:
            return _Server((HOST, number), handle)
        except OSError as error:
            if error.errno == errno.EADDRINUSE and number != wanted[-1]:
                continue
            raise PublishError(
                f"Port {number} of this machine cannot be used: {error.strerror or error}.",
                "Give another with --port, or --port 0 for any that is free.",
            ) from error
    raise AssertionError("there is at least one port to try")


def address_of(server: ThreadingHTTPServer) -> str:
    """Where `server` answers."""
    return f"http://localhost:{server.server_address[1]}/"
