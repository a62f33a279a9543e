"""The server: one page, one machine, no other host or site, and news as soon as there is any."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from http.client import HTTPConnection, HTTPResponse

import pytest

from photoperiod.errors import OutsideWorldError
from photoperiod.page.live import LOOPBACK, MOST_WAITING, LivePage, serving

PAGE = b'<html data-version="live">one</html>'


@pytest.fixture
def served() -> Iterator[tuple[LivePage, int]]:
    live = LivePage(PAGE)
    with serving(live, 0) as port:
        yield live, port


def ask(port: int, path: str = "/", method: str = "GET", **headers: str) -> HTTPResponse:
    connection = HTTPConnection(LOOPBACK, port, timeout=5)
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    connection.request(method, path, headers={"Host": f"{LOOPBACK}:{port}", **named})
    return connection.getresponse()


def test_the_page_is_served_with_its_version(served: tuple[LivePage, int]) -> None:
    live, port = served
    answer = ask(port)
    assert answer.status == 200
    assert answer.read() == live.page == PAGE.replace(b"live", live.version.encode())
    assert answer.headers["Content-Type"] == "text/html; charset=utf-8"
    assert answer.headers["Cache-Control"] == "no-store"
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert "Python" not in answer.headers["Server"]
    assert ask(port, Host=f"localhost:{port}").status == 200


def test_head_has_no_body_and_other_methods_are_refused(served: tuple[LivePage, int]) -> None:
    _, port = served
    answer = ask(port, method="HEAD")
    assert (answer.status, answer.read()) == (200, b"")
    assert int(answer.headers["Content-Length"]) > 0
    for method in ("POST", "PUT", "DELETE", "OPTIONS"):
        assert ask(port, method=method).status == 501


@pytest.mark.parametrize("path", ["/x", "/../etc/passwd", "/?a", "/changes/"])
def test_there_is_one_page(served: tuple[LivePage, int], path: str) -> None:
    assert ask(served[1], path).status == 404


@pytest.mark.parametrize(
    "host", ["tank.example", "127.0.0.1", "127.0.0.1:1", "", "localhost.example"]
)
def test_another_host_is_refused(served: tuple[LivePage, int], host: str) -> None:
    answer = ask(served[1], Host=host)
    assert answer.status == 421
    assert b"one" not in answer.read()
    assert ask(served[1], "/changes", Host=host).status == 421


def test_a_host_told_twice_is_refused(served: tuple[LivePage, int]) -> None:
    _, port = served
    with socket.create_connection((LOOPBACK, port), timeout=5) as wire:
        wire.sendall(
            f"GET / HTTP/1.1\r\nHost: {LOOPBACK}:{port}\r\nHost: tank.example\r\n\r\n".encode()
        )
        assert b" 421 " in wire.recv(100)


def test_another_site_is_refused(served: tuple[LivePage, int]) -> None:
    _, port = served
    assert ask(port, Origin="http://tank.example").status == 403
    assert ask(port, Origin="null").status == 403
    assert ask(port, Origin=f"http://{LOOPBACK}:{port + 1}").status == 403
    assert ask(port, Sec_Fetch_Site="cross-site").status == 403
    assert ask(port, "/changes", Sec_Fetch_Site="same-site").status == 403
    assert ask(port, Origin=f"http://{LOOPBACK}:{port}").status == 200
    assert ask(port, Sec_Fetch_Site="same-origin").status == 200


def test_who_waits_is_told_of_another_page(served: tuple[LivePage, int]) -> None:
    live, port = served
    answer = ask(port, "/changes")
    assert answer.headers["Content-Type"] == "text/event-stream"
    first = live.version
    assert answer.readline() == f"data: {first}\n".encode()
    assert answer.readline() == b"\n"
    live.put(PAGE.replace(b"one", b"two"))
    assert live.version != first
    assert answer.readline() == f"data: {live.version}\n".encode()


def test_the_same_page_again_is_no_news() -> None:
    live = LivePage(PAGE)
    version = live.version
    live.put(PAGE)
    assert live.version == version
    assert live.other_than(version, 0.01) == version
    assert live.other_than("another", 5.0) == version


def test_who_waits_hears_when_it_ends() -> None:
    live = LivePage(PAGE)
    found: list[str | None] = []
    waits = threading.Thread(target=lambda: found.append(live.other_than(live.version, 30.0)))
    waits.start()
    live.close()
    waits.join(5)
    assert found == [None]


def test_no_more_wait_than_there_is_room_for(served: tuple[LivePage, int]) -> None:
    _, port = served
    waiting = [ask(port, "/changes") for _ in range(MOST_WAITING)]
    assert {answer.status for answer in waiting} == {200}
    assert ask(port, "/changes").status == 503
    assert ask(port).status == 200


def test_a_port_in_use_is_told(served: tuple[LivePage, int]) -> None:
    _, port = served
    with (
        pytest.raises(OutsideWorldError, match="another program listens there") as fault,
        serving(LivePage(PAGE), port),
    ):
        pass
    assert fault.value.code == "PHO516"
    assert "--port" in fault.value.help


def test_nobody_listens_after_the_end() -> None:
    with serving(LivePage(PAGE), 0) as port:
        assert ask(port).status == 200
    with pytest.raises(ConnectionRefusedError):
        ask(port)


def test_only_the_loopback_is_listened_on(served: tuple[LivePage, int]) -> None:
    _, port = served
    for address in ("127.0.0.2", "127.1.2.3"):  # other addresses of this machine
        with pytest.raises(OSError), socket.create_connection((address, port), timeout=2):
            pass
