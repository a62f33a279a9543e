from __future__ import annotations

import functools
import gc
import inspect
import io
import os
import signal
import sys
import threading
import zlib
from collections import OrderedDict
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis.strategies import none

from photoperiod.api import Loaded, ScheduleError, compile, load_text
from photoperiod.cli import loading, main
from photoperiod.diagnostics.model import Report
from photoperiod.program.dates import DateSpan
from photoperiod.program.model import Program
from photoperiod.schedule.model import Schedule
from photoperiod.setpoints.fit import remembered
from photoperiod.setpoints.remembered import Remembered
from photoperiod.source.document import Document
from photoperiod.tubes.hours import LedgerState

if TYPE_CHECKING:
    from xdist.remote import Producer
    from xdist.scheduler import Scheduling

ROOT = Path(__file__).resolve().parents[1]
EXAMPLES = sorted((ROOT / "examples").glob("*.yaml"))

# Tests are shared out to all cores: no process helps another.
loading.WORTH_HELP_DAYS = 10**6

#: The process of the tests that runs here among those of `-n`, if any, and how many there are.
WORKER = os.environ.get("PYTEST_XDIST_WORKER", "")
WORKERS = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))

# What runs the tests may ignore Ctrl-C or hold it back, as shells do for what runs in their background; the
# commands that tests start would inherit that. A person's terminal does neither.
if threading.current_thread() is threading.main_thread():
    if signal.getsignal(signal.SIGINT) == signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})

# The commands that tests start would else compile all of Python's modules again, each time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# The same cases each time, and none fails because the machine is busy; the ordinary run draws a quarter.
hypothesis_settings.register_profile(
    "all", derandomize=True, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
hypothesis_settings.register_profile(
    "some", hypothesis_settings.get_profile("all"), max_examples=25
)
hypothesis_settings.load_profile("some")


def drawn(most: int) -> int:
    """Return how many examples a property test draws now, of those that it draws in the long sweeps."""
    share = hypothesis_settings().max_examples / hypothesis_settings.get_profile("all").max_examples
    return min(most, max(round(share * most), 10))


#: A schedule without a fault or note; tests damage it.
SCHEDULE = """\
schedule: 1
title: Test bench
controller:
  clock: standard
  channels: 2
  setpoints_per_channel: 16
  time_step_minutes: 1
  between: line
  after_last_row: wrap
  relay: {kind: column}
  emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}
  converter: {kind: nominal, bits: 12, full_scale_volts: 10.0}
  port: {most_volts: 10.0, sink_milliamps: 20}
ballasts:
  pair:
    response: {kind: square-law}
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0
    dark: {kind: relay}
    below_floor: nearest
tubes:
  blue-a: {watts: 54}
zones:
  crest: {dli: [3, 5], ppfd_max: 200, dark_hours_min: 8}
channels:
  blue:
    ballast: pair
    tubes: [blue-a]
    full_ppfd: {zones: {crest: 130}}
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60}
      peaks: [{light_percent: 80}]
      dusk: {end: 21:00, minutes: 60}
tank: bench
"""


@contextmanager
def own_tables(tables: Remembered) -> Iterator[None]:
    """Let no fit that was made before be found inside, and none that is made inside be found afterwards."""
    others, tables._known = tables._known, OrderedDict()
    try:
        yield
    finally:
        tables._known = others


@pytest.fixture(autouse=True)
def _changed_code_is_not_remembered(request: pytest.FixtureRequest) -> Iterator[None]:
    """A test gets a table that was fitted before, for another file, too, by code that nobody had changed."""
    changes_code = "monkeypatch" in inspect.signature(request.function).parameters
    with own_tables(remembered) if changes_code else nullcontext():
        yield


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--slow", action="store_true", help="run the long sweeps too")
    parser.addoption("--slow-part", default="0/1", help="K/N: run every N-th of the long sweeps")


def pytest_configure(config: pytest.Config) -> None:
    hypothesis_settings.load_profile("all" if config.getoption("--slow") else "some")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores: some tests wait for processes."""
    return (os.cpu_count() or 1) + 1


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> Scheduling | None:
    """Each worker goes through files of its own: what the tests of a file share is made in one worker.

    Who is done takes half of what another has left.
    """
    if config.getoption("dist") != "load":
        return None
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """Each worker begins at another file: what one has compiled the others need not compile again."""
    report = yield
    if WORKER and collector.path == ROOT / "tests":
        first = len(report.result) * int(WORKER.removeprefix("gw")) // WORKERS
        report.result = [*report.result[first:], *report.result[:first]]
    return report


def pytest_collection_finish() -> None:
    """What stands until the end need not be looked through again and again for garbage."""
    _first_example()
    gc.collect()
    gc.freeze()


@given(none())
def _first_example(_: None) -> None:
    """Let hypothesis keep its source of chance: up to 6.100 it can't among what is frozen."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Deselect the long sweeps, so that the ordinary command stays short.

    With them, property tests are long sweeps, too: they draw all their examples then.
    """
    if WORKER:  # all of them must have one order
        items.sort(key=lambda item: item.path)
    if config.getoption("--slow"):
        for item in items:
            if hasattr(getattr(item, "obj", None), "hypothesis"):
                item.add_marker("slow")
    runs = [_runs(item, config) for item in items]
    config.hook.pytest_deselected(
        items=[i for i, it_runs in zip(items, runs, strict=True) if not it_runs]
    )
    items[:] = [item for item, it_runs in zip(items, runs, strict=True) if it_runs]


def _runs(item: pytest.Item, config: pytest.Config) -> bool:
    """Return whether a test is asked for; parts of the long sweeps go by names, so that they stay."""
    marker = item.get_closest_marker("slow")
    if marker is None or not config.getoption("--slow"):
        return marker is None
    part, parts = map(int, config.getoption("--slow-part").split("/"))
    is_in_part = zlib.crc32(item.nodeid.encode()) % parts == part
    return is_in_part or bool(marker.kwargs.get("in_each_part"))


@contextmanager
def naming(what: object) -> Iterator[None]:
    """Name the input in whatever fails inside: one test can then go through many inputs."""
    try:
        yield
    except Exception as error:
        error.add_note(f"the input: {what!r}")
        raise


def changed(*changes: tuple[str, str]) -> str:
    """Return SCHEDULE with replacements, each of which must find its text exactly once."""
    text = SCHEDULE
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
        text = text.replace(old, new)
    return text


@dataclass(frozen=True)
class Outcome:
    """How far a text came: what was found, and the schedule and the program if there are any."""

    document: Document | None
    report: Report
    loaded: Loaded | None = None
    program: Program | None = None

    @property
    def schedule(self) -> Schedule | None:
        return None if self.loaded is None else self.loaded.schedule


def load(name: str, raw: bytes) -> Outcome:
    """Load a text, faulty or not."""
    try:
        loaded = load_text(name, raw, ROOT / "examples")
    except ScheduleError as fault:
        return Outcome(fault.document, fault.report)
    return Outcome(loaded.document, loaded.report, loaded)


def compile_and_check(
    outcome: Outcome, span: DateSpan | None, ledger: LedgerState | None = None
) -> Outcome:
    """Compile what was loaded; what has faults, or needs dates and got none, stays as it is."""
    loaded = outcome.loaded
    if loaded is None or (span is None and loaded.schedule.needs_dates):
        return outcome
    try:
        compiled = compile(loaded, span, ledger=ledger)
    except ScheduleError as fault:
        return Outcome(fault.document, fault.report, loaded)
    return Outcome(compiled.document, compiled.report, loaded, compiled.program)


@functools.lru_cache(maxsize=32)
def compiled(text: str, span: DateSpan | None = None) -> Outcome:
    """Compile a text, once in a worker; whoever changes the outcome must compile one of its own."""
    return compile_and_check(load("test.yaml", text.encode()), span)


def made_once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], Path]) -> Path:
    """Return what ``make`` puts into a folder; of the workers of `-n` one makes it, and the others wait."""
    if not WORKER or os.name != "posix":
        return make(factory.mktemp(name))
    import fcntl

    folder = factory.getbasetemp().parent / name
    folder.mkdir(exist_ok=True)
    with (folder / "made").open("a+", encoding="utf-8") as made:
        fcntl.flock(made, fcntl.LOCK_EX)
        made.seek(0)
        path = made.read()
        if not path:
            path = str(make(folder))
            made.write(path)
        return Path(path)


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    def write_file(text: str, name: str = "test.yaml") -> Path:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write_file


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    for name in ("NO_COLOR", "FORCE_COLOR", "COLUMNS"):
        monkeypatch.delenv(name, raising=False)

    def run_command(*arguments: object, stdin: bytes = b"") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["photoperiod", *map(str, arguments)])
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin), encoding="utf-8"))
        with pytest.raises(SystemExit) as stop:
            main()
        out, err = capsys.readouterr()
        return int(stop.value.code or 0), out, err

    return run_command
