"""A cluster on this machine: a scheduler and workers as processes on the loopback, and what they do."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

from tests.conftest import ROOT

#: How long something may take under the load of all other tests. [s]
LONG_S = 60.0

#: How often it is asked whether something is so. [s]
LOOK_S = 0.02


def wait_until(is_so: Callable[[], bool]) -> None:
    end = time.monotonic() + LONG_S
    while not is_so():
        assert time.monotonic() < end
        time.sleep(LOOK_S)


class Cluster:
    """A scheduler on a free port of the loopback, and its workers."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.file = folder, folder / "scheduler.json"
        self.workers: dict[str, subprocess.Popen[bytes]] = {}
        self.scheduler = self._start("scheduler", "--host", "127.0.0.1", "--port", "0")

    def _start(self, kind: str, *more: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.dask_{kind}"]
        command += ["--scheduler-file", str(self.file), "--dashboard-address", "127.0.0.1:0", *more]
        with (self.folder / f"{kind}-{len(self.workers)}.log").open("wb") as log:
            return subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log)

    def start(self, name: str, preload: str = "") -> None:
        """Start a worker; `preload` is Python that it runs first."""
        more = ["--name", name, "--nthreads", "1", "--no-nanny", "--host", "127.0.0.1"]
        more += ["--local-directory", str(self.folder)]
        if preload:
            script = self.folder / f"{name}.py"
            script.write_text(preload, encoding="utf-8")
            more += ["--preload", str(script)]
        self.workers[name] = self._start("worker", *more)

    @property
    def processes(self) -> list[subprocess.Popen[bytes]]:
        return [self.scheduler, *self.workers.values()]

    @property
    def address(self) -> str:
        wait_until(lambda: self._address() != "" or self.scheduler.poll() is not None)
        return self._address()

    def _address(self) -> str:
        """Return what the scheduler has written of itself, which may be half of it."""
        with suppress(OSError, ValueError):
            return str(json.loads(self.file.read_text(encoding="utf-8"))["address"])
        return ""

    def wait_until(self, is_so: Callable[[Any], bool]) -> None:
        """Wait until something holds of a client of the scheduler."""
        import distributed

        with distributed.Client(self.address, timeout=LONG_S, set_as_default=False) as client:
            wait_until(lambda: is_so(client))

    def wait_for(self, *names: str) -> None:
        """Wait until the scheduler knows these workers, and no others."""
        self.wait_until(lambda client: _names(client) == set(names))

    def stop_workers(self) -> None:
        """Kill all workers, and wait until the scheduler knows none."""
        self._kill(*self.workers.values())
        self.workers.clear()
        self.wait_for()

    def end(self) -> None:
        self._kill(*self.processes)

    def _kill(self, *processes: subprocess.Popen[bytes]) -> None:
        for process in processes:
            process.kill()
            process.wait()


def _names(client: Any) -> set[str]:
    return {str(each["name"]) for each in client.scheduler_info()["workers"].values()}
