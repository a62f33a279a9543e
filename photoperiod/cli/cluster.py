"""Many schedules on a cluster: its workers compile, this side reads, writes and tells, in the order of files.

No other module imports distributed. A worker gets the bytes of files and returns bytes: it shares no disk
with this side. Each of its processes works on one schedule at a time: what is printed meanwhile is caught.
"""

from __future__ import annotations

import contextlib
import logging
import os
import sys
import threading
import time
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError, Future
from concurrent.futures import TimeoutError as NotYet
from typing import Any, NamedTuple

import click

from photoperiod import __version__
from photoperiod.cli.parallel import Task, Told, Work, told
from photoperiod.errors import OutsideWorldError, PhotoperiodError
from photoperiod.text import extra_text, number_text, short

#: How often it is looked whether workers are left [s].
LOOK_S = 0.5

#: What of the environment has a say in what is printed.
_ENVIRONMENT = ("COLUMNS", "NO_COLOR", "FORCE_COLOR")

_ONE_AT_A_TIME = threading.Lock()


class Job(NamedTuple):
    """What is to be made of a file.

    Parameters
    ----------
    name : str
        What to call it in a message: its file.
    prepare : callable
        Reads here what the work needs, and returns its arguments.
    put : callable
        Takes what was made to its place here.
    """

    name: str
    prepare: Callable[[], Task]
    put: Callable[[Any], None]


class Made(NamedTuple):
    """What a worker made of a file, and what is to be told on standard error once it is in its place."""

    content: Any
    words: str = ""


def run_on_cluster(work: Work, jobs: Sequence[Job], address: str, wait_s: float) -> int:
    """Let workers do jobs, put what they made in its place here, print what they print.

    Parameters
    ----------
    work : callable
        Does a job, prints, and returns what was `Made`, or an exit code. Workers import it by its name.
    jobs : sequence of Job
        What is to be made; one that can't be prepared does not stop the others.
    address : str
        That of the scheduler.
    wait_s : float
        How long to go on without any worker. [s]

    Returns
    -------
    int
        The largest of the exit codes.

    Raises
    ------
    OutsideWorldError
        PHO519 if nobody can be worked with, PHO521 if the library is not installed.
    """
    worst = 0
    with contextlib.closing(_each_told(work, jobs, address, wait_s)) as found:
        for each, job in zip(found, jobs, strict=True):
            done = _put(each, job)
            sys.stderr.write(done.err)
            sys.stdout.write(done.out)
            sys.stdout.flush()  # a log of both has them in this order
            worst = max(worst, done.result)
    return worst


def _put(each: Told, job: Job) -> Told:
    """Return what was told of a job, with its exit code, once what it made is in its place."""
    if isinstance(each.result, int):
        return each
    try:
        job.put(each.result.content)
    except PhotoperiodError as error:
        return Told("", f"{each.err}{error.told()}\n", error.exit_code)
    return Told(each.out, each.err + each.result.words, 0)


def _each_told(work: Work, jobs: Sequence[Job], address: str, wait_s: float) -> Generator[Told]:
    """Yield what each job prints and returns, in their order, or why it was not done."""
    prepared = [told(job.prepare, ()) for job in jobs]
    with _client(address, wait_s) as client:
        _refuse_others(client, wait_s)
        executor = client.get_executor(pure=False)
        environment = {n: os.environ[n] for n in _ENVIRONMENT if n in os.environ}
        us = identity()
        futures = [
            None
            if isinstance(each.result, int)
            else executor.submit(_worked, us, environment, work, each.result)
            for each in prepared
        ]
        patience = _Patience(client, wait_s)
        for job, each, future in zip(jobs, prepared, futures, strict=True):
            yield each if future is None else _awaited(job.name, future, patience)


def identity() -> dict[str, str]:
    """Return what must be the same everywhere, since each table tells it: versions by what they are of."""
    from photoperiod.sky.clock import ZONE_DATA

    return {"photoperiod": __version__, "zone data": ZONE_DATA}


@contextlib.contextmanager
def _client(address: str, wait_s: float) -> Iterator[Any]:
    """Give a connection to the scheduler at an address."""
    try:
        import dask
        import distributed
    except ImportError as error:
        raise OutsideWorldError(
            "PHO521", "--cluster needs a library that is not installed", extra_text("cluster")
        ) from error
    connect: Any = distributed.Client  # some versions tell their types, some do not
    limits = {"distributed.comm.timeouts.connect": f"{wait_s}s"}
    with _quiet(), dask.config.set(limits):
        try:
            client: Any = connect(address, timeout=wait_s, set_as_default=False)
        except (OSError, ValueError) as error:
            raise OutsideWorldError(
                "PHO519",
                f"no scheduler answers at '{short(address)}'",
                "is it running there? An address is like `tcp://192.0.2.7:8786`",
            ) from error
        try:
            yield client
        finally:
            with contextlib.suppress(Exception):  # the scheduler may have gone
                client.close(timeout=2)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Let the library print nothing: what is lost is told by us, once, with its file."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(before)


def _refuse_others(client: Any, wait_s: float) -> None:
    """Raise PHO519 unless there is a worker, and each is of our versions."""
    try:
        client.wait_for_workers(1, timeout=wait_s)
        found: Mapping[str, Any] = client.run(identity, on_error="return")
        workers: Mapping[str, Any] = client.scheduler_info(n_workers=-1)["workers"]
    except (OSError, NotYet) as error:
        raise OutsideWorldError(
            "PHO519",
            f"the cluster has no worker, after {number_text(wait_s)} s",
            "start workers for this scheduler, or leave out `--cluster`",
        ) from error
    us = identity()
    for worker, theirs in found.items():
        name = workers.get(worker, {}).get("name", worker)
        who = f"worker '{short(str(name))}'" + (f" at {worker}" if name != worker else "")
        if not isinstance(theirs, dict):
            raise _refused(f"{who} can't run photoperiod: {short(str(theirs))}")
        for what, version in us.items():
            if theirs.get(what) != version:
                other = short(str(theirs.get(what)))
                raise _refused(f"{who} has {what} {other}, and this side {version}")


def _refused(message: str) -> OutsideWorldError:
    return OutsideWorldError(
        "PHO519", message, "install the same versions there as here, and start that worker again"
    )


class _Patience:
    """How long no worker has been seen.

    Parameters
    ----------
    client : Client
        The connection.
    wait_s : float
        After this time without any worker it is at an end. [s]
    """

    def __init__(self, client: Any, wait_s: float) -> None:
        self._client, self.wait_s = client, wait_s
        self._seen = time.monotonic()

    @property
    def is_at_an_end(self) -> bool:
        """True if no worker was seen for the whole time; it is looked once more."""
        if self._has_workers():
            self._seen = time.monotonic()
        return time.monotonic() - self._seen > self.wait_s

    def _has_workers(self) -> bool:
        try:
            return bool(self._client.scheduler_info()["workers"])
        except Exception:  # whatever the library says of a scheduler that is not there
            return False


def _awaited(name: str, future: Future[Told], patience: _Patience) -> Told:
    """Return what a task told, or that it was lost."""
    from distributed.scheduler import KilledWorker

    while True:
        try:
            return future.result(timeout=LOOK_S)
        except KilledWorker:
            return _lost(name, "the workers that had it died, one after the other")
        except CancelledError:
            return _lost(name, "the scheduler went away")
        except NotYet:
            if not future.done() and patience.is_at_an_end:
                seconds = number_text(patience.wait_s)
                return _lost(name, f"no worker was left for {seconds} s")
        except OutsideWorldError as error:  # a worker of another version, which came later
            return Told("", f"{error.told()}\n", error.exit_code)
        except Exception as error:  # what a worker could not even begin, or send back
            return _lost(name, f"a worker failed: {short(str(error) or type(error).__name__)}")


def _lost(name: str, why: str) -> Told:
    error = OutsideWorldError(
        "PHO520",
        f"'{name}' is missing: {why}",
        "run the command again with the files that are missing",
    )
    return Told("", f"{error.told()}\n", error.exit_code)


def _worked(us: Mapping[str, str], environment: Mapping[str, str], work: Work, task: Task) -> Told:
    """Do a task on a worker."""
    if us != identity():
        raise _refused(f"a worker has {identity()}, and the command {dict(us)}")
    with _ONE_AT_A_TIME, _surroundings(environment):
        return told(work, task)


@contextlib.contextmanager
def _surroundings(environment: Mapping[str, str]) -> Iterator[None]:
    """Let what has a say in printing be as on the other side."""
    before = {name: os.environ.pop(name, None) for name in _ENVIRONMENT}
    os.environ.update(environment)
    try:
        yield
    finally:
        for name, value in before.items():
            os.environ.pop(name, None)
            if value is not None:
                os.environ[name] = value


def refuse_with_cluster(cluster: str | None, **others: object) -> None:
    """Raise a usage error for an option that can't be followed on a cluster, by its name."""
    for name, value in others.items():
        if cluster is not None and value is not None:
            raise click.UsageError(f"--cluster goes without --{name}")
