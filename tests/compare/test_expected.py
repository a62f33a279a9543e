"""The replay of a table at instants."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from photoperiod.compare import expected as expected_module
from photoperiod.compare.expected import Expected, LoggedLight, band, date_of_day
from photoperiod.drive.grid import Row
from photoperiod.formats.about import about_data
from photoperiod.formats.image import DatedTable, date_of, encode
from photoperiod.formats.table import PlayableTable, read_table
from photoperiod.player.outputs import PlayedDay, of_set
from photoperiod.sky.clock import Clock
from tests.board.bench import MIDNIGHT
from tests.board.bench import table as exported
from tests.compare.logs import (
    START,
)


@pytest.fixture(scope="module")
def expected(table: Path) -> Expected:
    held = read_table("table.json", table.read_bytes())
    return Expected(held, held.clock(None))


def unix_s(*hours: float) -> np.ndarray:
    """Instants on the controller's clock, an hour behind UTC, on the first date of the table."""
    return START.timestamp() + 3600 * np.array(hours)


def test_light_relay_and_ppfd_by_hand(expected: Expected) -> None:
    # 80 % light is 8.944 V; the grid has 89 %, which is code 3645 of 4096 and 8.8989 V.
    light = (3645 / 4096) ** 2
    assert expected.light("blue", unix_s(3, 12)).tolist() == [0, pytest.approx(light, abs=1e-7)]
    assert expected.relay_on("blue", unix_s(3, 12)).tolist() == [0, 1]
    assert expected.ppfd("crest", unix_s(3, 12)) == pytest.approx([0, 130 * light], abs=1e-5)


def test_instants_are_shown_on_the_clock_of_the_controller(expected: Expected) -> None:
    days, seconds = expected.local(unix_s(0, 23.5, 24))
    assert [date_of_day(int(day)).isoformat() for day in days] == [
        "2027-03-02",
        "2027-03-02",
        "2027-03-03",
    ]
    assert seconds.tolist() == [0, 84_600, 0]
    assert expected.time_text(START.timestamp()) == "2027-03-02T00:00:00-01:00"


def test_outside_its_dates_the_first_or_last_table_goes_on(expected: Expected) -> None:
    noon = expected.light("blue", unix_s(12))
    assert expected.light("blue", unix_s(12 - 240, 12 + 240)).tolist() == [*noon, *noon]


def test_a_band_reaches_to_both_sides() -> None:
    now, low, high = band(lambda at: at**2, np.array([0.0, 100.0]), 60.0)
    assert now.tolist() == [0, 10_000]
    assert low.tolist() == [0, 1600] and high.tolist() == [3600, 25_600]
    _, low, high = band(lambda at: at, np.array([5.0]), 0.0)
    assert (low.tolist(), high.tolist()) == ([5.0], [5.0])


def test_only_what_is_asked_for_is_played_and_little_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An image of 3,000 days, each with rows of its own; a log of three of them."""
    held = many_days(3000)
    played = []

    def counted(table: PlayableTable, id: str, index: int) -> PlayedDay:
        played.append(index)
        return of_set(table, id, index)

    monkeypatch.setattr(expected_module, "of_set", counted)
    replay = Expected(held, Clock.utc())
    noon = MIDNIGHT + 43_200.0 + 86_400.0 * np.array([10.0, 11.0, 12.0])
    assert replay.light("blue", noon).size == 3 and played == [10, 11, 12]
    replay.light("blue", noon)
    assert played == [10, 11, 12]
    replay.light("blue", MIDNIGHT + 86_400.0 * np.arange(100))
    assert len(replay._days) == expected_module.MOST_KEPT_DAYS


def test_a_day_of_log_needs_a_day_of_memory(tmp_path: Path) -> None:
    """All of 6,000 days at 86,400 seconds, as counts and relay states, would be 1.5 GB."""
    path, log = tmp_path / "table.bin", tmp_path / "log.csv"
    path.write_bytes(encode(many_days(6000).image))
    lines = [f"{MIDNIGHT + 60 * n},40" for n in range(1441)]
    log.write_text("time,blue_count\n" + "\n".join(lines) + "\n", encoding="utf-8")
    program = (
        "import sys\n"
        "from photoperiod.cli.main import cli\n"
        f"code = cli.main(['compare', {str(path)!r}, {str(log)!r}], standalone_mode=False)\n"
        "print(*[line for line in open('/proc/self/status') if 'VmHWM' in line], file=sys.stderr)\n"
        "sys.exit(code)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.returncode == 1, done.stderr
    assert int(done.stderr.split()[1]) < 100 * 1024  # KiB, the most that was in use at once


def many_days(days: int) -> PlayableTable:
    """A table with a row of its own for each of many dates from 2027-03-02 on."""
    held = read_table("t", exported((0, 40), dates=("2027-03-02", "2027-03-03")))
    assert held.image.span is not None
    first = held.image.span[0]
    about = replace(held.about, dates=(date_of(first), date_of(first + days)))
    image = replace(
        held.image,
        about=json.dumps(about_data(about)).encode(),
        sets=tuple((Row(n, n % 90 + 1, True),) for n in range(days)),
        tables=tuple(DatedTable(first + n, (n,)) for n in range(days)),
        span=(first, first + days),
    )
    return PlayableTable(about=about, image=image, paths=held.paths)


def test_a_part_of_a_light_keeps_how_each_record_stands() -> None:
    one = LoggedLight(
        subject="blue", is_zone=False, scale=1.0, holds=np.array([True, False, False, True, False]),
        unix_s=np.arange(5.0), values=np.arange(5.0) / 10, expected=np.zeros_like,
    )  # fmt: skip
    part = one.part(slice(0, 4, 3))
    assert part.unix_s.tolist() == [0, 3] and part.values.tolist() == [0, 0.3]
    assert part.held.tolist() == [True, True]
    assert replace(one, holds=False).part(slice(1, 3)).held.tolist() == [False, False]
