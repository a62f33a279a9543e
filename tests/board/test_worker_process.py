"""What a process does with calls, here in a thread."""

from __future__ import annotations

import pickle
import socket
import struct
import threading
from collections.abc import Iterator
from typing import Any

import pytest

from photoperiod.board.worker_process import serve

HEAD = struct.Struct("!I")


class Served:
    def double(self, number: int) -> int:
        return 2 * number

    def fail(self, name: str | None) -> None:
        raise PermissionError(13, "Permission denied", name)

    def fail_without_number(self) -> None:
        raise OSError("only words")

    def refuse(self) -> None:
        raise ValueError("embedded null byte")


@pytest.fixture
def line() -> Iterator[socket.socket]:
    mine, its = socket.socketpair()
    thread = threading.Thread(target=serve, args=(its, Served()))
    thread.start()
    assert answer(mine) == ("started", None)
    yield mine
    mine.close()  # so that it ends
    thread.join(30)
    assert not thread.is_alive()
    its.close()


def answer(line: socket.socket) -> Any:
    size = HEAD.unpack(line.recv(HEAD.size, socket.MSG_WAITALL))[0]
    return pickle.loads(line.recv(size, socket.MSG_WAITALL))


def ask(line: socket.socket, method: str, *arguments: object) -> Any:
    raw = pickle.dumps((method, arguments))
    line.sendall(HEAD.pack(len(raw)) + raw)
    return answer(line)


def test_calls_are_made_one_after_the_other(line: socket.socket) -> None:
    assert ask(line, "double", 21) == ("value", 42)
    assert ask(line, "double", "ab" * 2**20) == ("value", "ab" * 2**21)  # more than one packet


def test_errors_come_with_number_text_and_file(line: socket.socket) -> None:
    assert ask(line, "fail", "/a") == ("error", (13, "Permission denied", "/a"))
    assert ask(line, "fail", None) == ("error", (13, "Permission denied", None))
    assert ask(line, "fail_without_number") == ("error", (0, "only words", None))
    assert ask(line, "refuse") == ("error", (0, "embedded null byte", None))
