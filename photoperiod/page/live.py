"""A page for one browser of this machine, which loads itself anew when the page changes.

Only the loopback interface is listened on. A page of the web that this browser shows could ask this server
too, under a name of its own that leads here. So a request counts only if it names this server as its host,
and if what sent it is no other site.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import socket
import threading
from collections.abc import Iterator
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from photoperiod.errors import OutsideWorldError, os_reason

#: The one address that is listened on.
LOOPBACK = "127.0.0.1"

#: Names under which a browser may ask.
HOSTS = (LOOPBACK, "localhost")

#: A request that is not complete after this time is dropped [s].
REQUEST_S = 10.0

#: A browser that waits hears something at least this often, so that one that has gone is noticed [s].
HEARTBEAT_S = 15.0

#: So many browsers may wait at once.
MOST_WAITING = 16

#: What stands in a live page in place of its version.
PLACE_OF_VERSION = b'data-version="live"'

HEADERS = {
    "Cache-Control": "no-store",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
}


class LivePage:
    """The page that is served now; whoever waits is told of the next one."""

    def __init__(self, page: bytes) -> None:
        self._changed = threading.Condition()
        self._is_closed = False
        self._page, self._version = _versioned(page)

    def put(self, page: bytes) -> None:
        """Serve another page; the same one again changes nothing."""
        with self._changed:
            self._page, self._version = _versioned(page)
            self._changed.notify_all()

    def close(self) -> None:
        """Let nobody wait any longer."""
        with self._changed:
            self._is_closed = True
            self._changed.notify_all()

    @property
    def page(self) -> bytes:
        """The page, with its version in it."""
        with self._changed:
            return self._page

    @property
    def version(self) -> str:
        """What tells this page from others: the same bytes have the same one."""
        with self._changed:
            return self._version

    def other_than(self, version: str, wait_s: float) -> str | None:
        """Return the version of another page, as soon as there is one.

        Parameters
        ----------
        version : str
            The version that is known.
        wait_s : float
            How long to wait; then the known version is returned. [s]

        Returns
        -------
        str or None
            None if the page is served no longer.
        """
        with self._changed:
            self._changed.wait_for(
                lambda: self._is_closed or self._version != version, timeout=wait_s
            )
            return None if self._is_closed else self._version


def _versioned(page: bytes) -> tuple[bytes, str]:
    version = hashlib.sha256(page).hexdigest()[:16]
    told = f'data-version="{version}"'.encode()
    return page.replace(PLACE_OF_VERSION, told, 1), version


class _Server(ThreadingHTTPServer):
    """The server of one page."""

    daemon_threads = True

    def __init__(self, port: int, live: LivePage) -> None:
        self.live = live
        self.waiting = threading.BoundedSemaphore(MOST_WAITING)
        super().__init__((LOOPBACK, port), _Handler)

    def server_bind(self) -> None:
        """Take the port without looking up the name of the machine."""
        if os.name == "posix":  # a port whose connections just ended is free there, and only there
            self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self.socket.bind(self.server_address)
        self.server_address = self.socket.getsockname()
        self.server_name, self.server_port = LOOPBACK, int(self.server_address[1])

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Say nothing of a browser that went away in the middle."""


class _Handler(BaseHTTPRequestHandler):
    """Answers one browser."""

    server: _Server
    server_version, sys_version = "photoperiod", ""
    timeout = REQUEST_S

    def do_GET(self) -> None:
        """Answer with the page, or tell of changes."""
        if self._refuses():
            return
        if self.path == "/":
            self._send(HTTPStatus.OK, self.server.live.page, "text/html; charset=utf-8")
        elif self.path == "/changes":
            self._tell_changes()
        else:
            self._say(HTTPStatus.NOT_FOUND, "There is only one page here: /")

    def do_HEAD(self) -> None:
        """Answer as to GET, without the page."""
        self.do_GET()

    def log_message(self, format: str, *args: object) -> None:
        """Print nothing: the terminal tells of the schedule."""

    def _refuses(self) -> bool:
        """Answer a request that does not come from our own page in this browser, and return True."""
        names = {f"{host}:{self.server.server_port}" for host in HOSTS}
        origin = self.headers.get("Origin")
        site = self.headers.get("Sec-Fetch-Site", "none")
        if self.headers.get_all("Host", []) not in [[name] for name in names]:
            self._say(HTTPStatus.MISDIRECTED_REQUEST, "This page is for its own address only.")
        elif (origin is not None and origin not in {f"http://{name}" for name in names}) or (
            site not in ("none", "same-origin")
        ):
            self._say(HTTPStatus.FORBIDDEN, "This page is not for other sites.")
        else:
            return False
        return True

    def _tell_changes(self) -> None:
        """Send the version of the page, and each later one, until the browser goes."""
        if not self.server.waiting.acquire(blocking=False):
            self._say(HTTPStatus.SERVICE_UNAVAILABLE, "Too many browsers wait here.")
            return
        try:
            self._head(HTTPStatus.OK, "text/event-stream", None)
            version: str | None = self.server.live.version
            told = None
            while version is not None and self.command == "GET":
                line = f"data: {version}\n\n" if version != told else ": still here\n\n"
                self.wfile.write(line.encode())
                self.wfile.flush()
                told = version
                version = self.server.live.other_than(version, HEARTBEAT_S)
        except OSError:
            pass  # the browser went away
        finally:
            self.server.waiting.release()
            self.close_connection = True

    def _say(self, status: HTTPStatus, words: str) -> None:
        self._send(status, f"{words}\n".encode(), "text/plain; charset=utf-8")

    def _send(self, status: HTTPStatus, body: bytes, kind: str) -> None:
        self._head(status, kind, len(body))
        if self.command != "HEAD":
            with contextlib.suppress(OSError):
                self.wfile.write(body)

    def _head(self, status: HTTPStatus, kind: str, length: int | None) -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        if length is not None:
            self.send_header("Content-Length", str(length))
        for name, value in HEADERS.items():
            self.send_header(name, value)
        self.end_headers()


@contextlib.contextmanager
def serving(live: LivePage, port: int) -> Iterator[int]:
    """Serve a page while the body of the `with` runs, which gets the port.

    Parameters
    ----------
    live : LivePage
        The page.
    port : int
        On which to listen; 0 takes one that is free.

    Raises
    ------
    OutsideWorldError
        PHO516 if the port can't be had.
    """
    try:
        server = _Server(port, live)
    except OSError as error:
        why = "another program listens there"
        if error.errno != errno.EADDRINUSE:
            why = os_reason(error)
        raise OutsideWorldError(
            "PHO516",
            f"can't serve the page on port {port}: {why}",
            "name another port with `--port`, or `--port 0` for one that is free",
        ) from error
    thread = threading.Thread(
        target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True
    )
    thread.start()
    try:
        yield server.server_port
    finally:
        live.close()
        server.shutdown()
        thread.join()
        server.server_close()
