"""A real `watch`: it makes the page anew when the file is saved, and it stops when it is told to."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from http.client import HTTPConnection
from pathlib import Path

import pytest

from photoperiod.page.live import LivePage, serving
from tests.conftest import ROOT, SCHEDULE, Run, changed

Write = Callable[..., Path]

#: How long a page may take to come, under the load of all the other tests [s].
LONG_S = 60.0


class Watch:
    """A running `watch` of a file."""

    def __init__(self, path: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "photoperiod", "watch", str(path), "--port", "0"],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert self.process.stdout is not None
        self.told = ""
        while "Ctrl-C" not in self.told:
            line = self.process.stdout.readline()
            assert line, self.told
            self.told += line
        # the address is the last word: what follows it would become part of a terminal's link
        (port,) = re.findall(r"http://127\.0\.0\.1:(\d+)/$", self.told.strip())
        self.port = int(port)

    def page(self) -> str:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=10)
        connection.request("GET", "/")
        return connection.getresponse().read().decode()

    def page_with(self, words: str) -> str:
        until = time.monotonic() + LONG_S
        while words not in (page := self.page()):
            assert time.monotonic() < until, page[:3000]
            time.sleep(0.05)
        return page

    def stop(self, number: int) -> int:
        self.process.send_signal(number)
        rest, _ = self.process.communicate(timeout=LONG_S)
        self.told += rest
        return self.process.returncode


def test_parts_are_watched_too_also_when_they_are_broken(tmp_path: Path) -> None:
    split = SCHEDULE.index("tubes:")
    parts = tmp_path / "p.yaml"
    shared = "parts: 1\n" + SCHEDULE[SCHEDULE.index("controller:") : split]
    parts.write_text(shared, encoding="utf-8")
    tank = tmp_path / "tank.yaml"
    tank.write_text("schedule: 1\nparts: p.yaml\n" + SCHEDULE[split:], encoding="utf-8")
    found = Watch(tank)
    try:
        assert "What does the day look like?" in found.page()
        parts.write_text(shared.replace("square-law", "sqare-law"), encoding="utf-8")
        assert "p.yaml, line" in found.page_with("1 error")
        parts.write_text(shared, encoding="utf-8")
        found.page_with("What does the day look like?")
    finally:
        found.stop(signal.SIGTERM)


@pytest.fixture
def watch(write: Write) -> Iterator[Watch]:
    found = Watch(write(SCHEDULE))
    yield found
    found.process.kill()
    found.process.communicate()


def test_each_save_makes_the_page_anew_and_errors_never_blank_it(
    watch: Watch, write: Write
) -> None:
    assert "What does the day look like?" in watch.page()
    write(changed(("square-law", "sqare-law")))
    page = watch.page_with("1 error")
    assert "did you mean" in page
    path = write(changed(("title: Test bench", "title: Another bench")))
    assert "What does the day look like?" in watch.page_with("Another bench")
    path.unlink()
    gone = watch.page_with("No page yet")
    assert "PHO501" in gone and "<br>try: check the name" in gone and "x0a" not in gone
    write(changed(("ppfd_max: 200", "ppfd_max: 90")))
    assert "What does the day look like?" in watch.page_with("Load nothing of this.")
    write(changed(("clock: standard", "clock: utc")))
    watch.page_with("error")
    assert watch.stop(signal.SIGINT) == 130
    assert watch.told.splitlines()[-1] == "stopped"
    assert "Traceback" not in watch.told


def test_sigterm_stops_it_with_0(watch: Watch) -> None:
    assert watch.stop(signal.SIGTERM) == 0


def test_a_port_in_use_is_told(run: Run, write: Write) -> None:
    with serving(LivePage(b""), 0) as port:
        code, _, err = run("watch", write(SCHEDULE), "--port", port)
    assert code == 4
    assert "PHO516" in err
    assert "--port 0" in err


def test_wrong_use(run: Run, write: Write) -> None:
    code, _, err = run("watch", "-")
    assert (code, "saved again" in err) == (2, True)
    code, _, err = run("watch", write(SCHEDULE), "--port", "70000")
    assert code == 2
