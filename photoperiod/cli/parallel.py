"""Many schedules at once, each in a process of its own, told of in the order they were given.

And processes that help with the many dates of one schedule.
"""

from __future__ import annotations

import contextlib
import io
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import redirect_stderr, redirect_stdout
from multiprocessing.context import BaseContext
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from photoperiod.cli.streams import show_bug, show_wrong_use
from photoperiod.errors import OutsideWorldError, PhotoperiodError, os_reason
from photoperiod.formats.interrupts import interrupts_wait

if TYPE_CHECKING:
    from photoperiod.program.seasons_ahead import Helpers

#: Windows can wait for no more processes at once (documentation of `ProcessPoolExecutor`).
MOST_WORKERS = 61

#: What the work of most files needs. It is imported once, in the process from which workers are forked: numpy
#: and the rest take 0.6 s of a processor, as much as the work on six small tanks.
_IMPORTED_ONCE = (
    "photoperiod.cli.compile",
    "photoperiod.api",
    "photoperiod.schedule.build",
    "photoperiod.schedule.guards",
    "photoperiod.program.dated_tables",
    "photoperiod.program.season_types",
    "photoperiod.checks.run",
    "photoperiod.formats.folder",
    "photoperiod.report.summary",
)

#: With it, Python imports nothing from the folder where it works (Python 3.11, command line and environment).
_SAFE_PATH = "PYTHONSAFEPATH"

#: Why a task has no result: its process was killed, or none can begin.
_NO_WORKER = (BrokenProcessPool, OSError)

#: Exit code of a worker that was stopped.
_STOPPED = 130

#: How often it is looked whether a worker has tidied up.
_LOOK_S = 0.02

Work = Callable[..., Any]
Task = tuple[Any, ...]


class Told(NamedTuple):
    """What a task printed, and what it returned; the exit code where it failed."""

    out: str
    err: str
    result: Any


def make_folder(folder: str) -> None:
    """Make a folder unless it is there."""
    try:
        Path(folder).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutsideWorldError(
            "PHO502", f"can't make the folder '{folder}': {os_reason(error)}"
        ) from error


def targets_of(files: Sequence[str], folder: str, suffix: str) -> list[str]:
    """Return where what is made of each file goes: its own name in a folder, with a suffix."""
    if "-" in (*files, folder):
        raise click.UsageError("with several FILEs, -o names a folder, and none of them is '-'")
    names = [Path(file).stem + suffix for file in files]
    if len(set(names)) < len(names):
        raise click.UsageError("two of the FILEs would be written under one name")
    return [str(Path(folder) / name) for name in names]


def run_all(work: Work, tasks: Sequence[Task], names: Sequence[str], jobs: int | None) -> int:
    """Run tasks as `each_told` does, print what they print, and return the largest of their exit codes."""
    worst = 0
    with contextlib.closing(each_told(work, tasks, names, jobs)) as found:
        for each in found:
            sys.stderr.write(each.err)
            sys.stdout.write(each.out)
            sys.stdout.flush()  # a log of both has them in this order
            worst = max(worst, each.result)
    return worst


def each_told(
    work: Work, tasks: Sequence[Task], names: Sequence[str], jobs: int | None
) -> Generator[Told]:
    """Yield what each task prints and returns, from some processes.

    It comes whole and in the order of the tasks, so that the same input gives the same bytes with any
    number of processes. One that fails does not stop the others, nor does one whose process is killed. If
    this process is interrupted or ends, the others end too.

    Parameters
    ----------
    work : callable
        Does a task, prints, and returns what can be pickled; for `run_all` an exit code. Processes import it
        by its name.
    tasks : sequence of tuple
        The arguments of each call.
    names : sequence of str
        What to call each task in a message: its file.
    jobs : int or None
        How many processes; None is one for each core, 1 is this process alone.
    """
    workers = min(len(tasks), jobs or _cores(), MOST_WORKERS)
    if workers == 1:
        yield from (told(work, task) for task in tasks)
    else:
        yield from _in_processes(work, tasks, names, workers)


def _cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _in_processes(
    work: Work, tasks: Sequence[Task], names: Sequence[str], workers: int
) -> Generator[Told]:
    """Yield what each task printed, in their order."""
    with _pool(workers) as pool:
        if pool is None:
            yield from (told(work, task) for task in tasks)
            return
        futures = [_submitted(pool, work, task) for task in tasks]
        for task, name, future in zip(tasks, names, futures, strict=True):
            try:
                found = future.result()
            except _NO_WORKER:  # which task ended its process is not known: try each again
                found = _alone(work, task, name)
            yield found


def _submitted(pool: ProcessPoolExecutor, work: Work, task: Task) -> Future[Told]:
    """Return the future of a task; one that has failed if a process was killed, or none can begin."""
    try:
        return pool.submit(_in_worker, work, task)
    except _NO_WORKER as error:
        failed: Future[Told] = Future()
        failed.set_exception(error)
        return failed


def _alone(work: Work, task: Task, name: str) -> Told:
    """Return what a task prints in a new process, or that this one was killed too.

    If no process can begin, it is done in this one.
    """
    with _pool(1) as pool:
        try:
            if pool is not None:
                return pool.submit(_in_worker, work, task).result()
        except BrokenProcessPool:
            error = OutsideWorldError(
                "PHO518",
                f"the process that worked on '{name}' was killed",
                "perhaps memory ran out: try fewer processes (--jobs 1), or fewer dates",
            )
            return Told("", f"{error.told()}\n", error.exit_code)
        except OSError:
            pass
    return told(work, task)


@contextlib.contextmanager
def helpers(jobs: int | None) -> Iterator[Helpers | None]:
    """Give other processes that work on the dates of one schedule; None where there is no core for them.

    Parameters
    ----------
    jobs : int or None
        How many processes, with this one; None is one for each core. In a process that helps there are none.
    """
    workers = min(jobs or _cores(), MOST_WORKERS) - 1
    if workers < 1 or multiprocessing.parent_process() is not None:
        yield None
        return

    from photoperiod.program.seasons_ahead import Helpers

    with _pool(workers) as pool:
        yield None if pool is None else Helpers(pool, workers)


class _Pool(ProcessPoolExecutor):
    """Processes that are given work, and begin with it, without a Ctrl-C meanwhile."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        with _interrupts_held():
            return super().submit(fn, *args, **kwargs)


@contextlib.contextmanager
def _pool(workers: int) -> Iterator[ProcessPoolExecutor | None]:
    """Give a pool of processes, which end at once if the body of the `with` is left by an exception.

    None where the system has no room for one: no shared memory, too many open files.
    """
    others = set(multiprocessing.active_children())
    try:
        made = _Pool(
            workers, mp_context=_context(), initializer=_begin, initargs=(dict(os.environ),)
        )
    except (OSError, NotImplementedError):
        yield None
        return
    with made as pool:
        try:
            yield pool
        except BaseException:
            for each in set(multiprocessing.active_children()) - others:
                each.terminate()
            raise


def _context() -> BaseContext:
    """Return how processes begin: forked from one that has imported what they need and does nothing else.

    So none takes over a lock or a thread of this one. Windows has no fork, and on macOS what numpy calls may
    not survive one: there each begins anew.
    """
    if sys.platform != "linux":
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(_IMPORTED_ONCE))
    _start_server()
    return context


def _start_server() -> None:
    """Start the process from which others are forked, unless it runs: it imports while this one goes on.

    Python starts it in the folder where this one works, and would import a `numpy.py` of that folder.
    """
    from multiprocessing import forkserver, resource_tracker

    before = os.environ.get(_SAFE_PATH)
    os.environ[_SAFE_PATH] = "1"
    try:
        with contextlib.suppress(OSError):  # what needs it tells of it
            with interrupts_wait():  # begun by the server's start, it would end the mask too early
                resource_tracker.ensure_running()
            with _interrupts_held():
                forkserver.ensure_running()
    finally:
        if before is None:
            del os.environ[_SAFE_PATH]
        else:
            os.environ[_SAFE_PATH] = before


@contextlib.contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back until the end. Processes that begin meanwhile never get it: we end them.

    The mask is for these. Here, a thread of a library may get the signal all the same, and then this one is
    interrupted: so the answer waits, too.
    """
    with interrupts_wait(), _signal_held():
        yield


@contextlib.contextmanager
def _signal_held() -> Iterator[None]:
    if not hasattr(signal, "pthread_sigmask"):  # Windows: `_begin` lets them ignore it
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, [signal.SIGINT])
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


#: Whether a worker is within a task, which then tidies up before it ends.
_is_busy = False


def _begin(environment: Mapping[str, str]) -> None:
    """Prepare a worker: it ends when it is told to, or when the process that began it has ended."""
    os.environ.clear()  # that of the process it was forked from may be older
    os.environ.update(environment)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, _stop)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _stop(_number: int, _frame: FrameType | None) -> None:
    if not _is_busy:
        os._exit(_STOPPED)
    # The pool tells each once more as soon as one of them has ended: that must not cut tidying up short.
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    raise KeyboardInterrupt


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    assert parent is not None
    parent.join()
    main = threading.main_thread().ident
    if _is_busy and main is not None and hasattr(signal, "pthread_kill"):
        signal.pthread_kill(main, signal.SIGTERM)  # it may be asleep: a signal wakes it
        while _is_busy:
            time.sleep(_LOOK_S)
    # An idle worker gets no signal: one that comes just before it falls asleep would be noted and never
    # answered, for nobody is left to give it work.
    os._exit(_STOPPED)


def _in_worker(work: Work, arguments: Task) -> Told:
    global _is_busy
    try:
        _is_busy = True
        found = told(work, arguments)
        _is_busy = False
        return found
    except KeyboardInterrupt:
        os._exit(_STOPPED)


def told(work: Work, arguments: Task) -> Told:
    """Return what a task prints and returns, whatever becomes of it."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            result = work(*arguments)
        except click.ClickException as error:
            show_wrong_use(error)
            result = error.exit_code
        except PhotoperiodError as error:
            click.echo(error.told(), err=True)
            result = error.exit_code
        except Exception as error:
            result = show_bug(error)
    return Told(out.getvalue(), err.getvalue(), result)
