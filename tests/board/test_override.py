"""Light by hand for some minutes: soft, limited, ended by itself, and in the log."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.board.override import (
    Limits,
    Override,
    as_json,
    limited,
    limits_of,
    of_json,
    override_file,
)
from photoperiod.formats.table import read_table
from photoperiod.player.reference import Output
from tests.board.bench import (
    BOARD,
    DAY,
    HOUR,
    MIDNIGHT,
    STEADY,
    Bench,
    FakeSystem,
    code,
    soft,
    table,
)
from tests.conftest import Run

#: Light 25 % is level 50 % on the bench's square-law ballast: √0.25 = 0.5. Its floor is 1 % at 10 %.
QUARTER = 50


def want(bench: Bench, light: float, minutes: int = 20, **others: Any) -> None:
    """Write what the command writes."""
    system = bench.system
    override = Override(
        boot_id=system.boot_id,
        from_boot_s=system.boot,
        from_unix_s=system.unix,
        minutes=minutes,
        light_percent={"blue": light},
    )
    path = override_file(bench.folder / "state")
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(as_json(replace(override, **others)))


def test_a_work_light_at_night_rises_softly_and_ends_by_itself(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR)
    bench.system.at(25, lambda: want(bench, 25))
    before, first, later, on, last, after = bench.watch([29, 31, 331, 1000, 1220, 1231])
    assert before == (0, False)
    assert first == (code(10), True)  # it begins at the step of 30 s
    assert later == (code(soft(300)), True)
    assert on == last == (code(QUARTER), True)
    assert after == (0, False)  # 20 minutes after 25 s, at the next step
    assert not override_file(tmp_path / "state").exists()
    assert bench.events() == ["start", "override", "override-over", "stop"]
    alarm = "alarm: light by hand: 'blue' 25 % until 2027-03-02T02:20:25Z"
    assert alarm in bench.said


def test_dark_for_a_while_and_softly_back(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: want(bench, 0, minutes=2))
    before, dark, back, later = bench.watch([24, 31, 151, 751])
    assert before == (code(80), True) and dark == (0, False)
    assert back == (code(10), True) and later == (code(soft(600)), True)


def test_no_more_than_the_table_gives_today(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR)
    bench.system.at(25, lambda: want(bench, 100, minutes=60))
    assert bench.watch([2000]) == [(code(80), True)]


def test_a_channel_that_the_table_has_not_is_told_once(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY, stop_s=60)
    want(bench, 0, light_percent={"blue": 0.0, "red": 20.0, "lime": 5.0})
    bench.run()
    told = [line for line in bench.said if "no channel" in line]
    assert told == [
        "light by hand: the table has no channel 'red' and 'lime'; nothing changes there"
    ]


def test_it_is_followed_through_a_restart_of_the_player(tmp_path: Path) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR, stop_s=600)
    bench.system.at(25, lambda: want(bench, 25, minutes=60))
    bench.run()
    again = Bench(tmp_path, DAY, unix=bench.system.unix, boot=bench.system.boot)
    assert again.watch([1000, 3020])[0] == (code(QUARTER), True)
    assert not again.relay


@pytest.mark.parametrize(("later_s", "is_lit"), [(600, True), (3601, False), (-3600, False)])
def test_after_a_restart_of_the_board_the_clock_decides(
    tmp_path: Path, later_s: int, is_lit: bool
) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT + 2 * HOUR)
    want(bench, 25, minutes=60)
    bench.system.unix += later_s
    bench.system.boot_id = "another start"
    bench.system.boot = bench.system.began = 5.0
    assert bench.watch([20])[0][1] is is_lit


def test_a_clock_that_is_stepped_does_not_make_it_longer() -> None:
    system = FakeSystem(unix=MIDNIGHT, boot=100.0)
    override = Override(
        boot_id="this start", from_boot_s=100.0, from_unix_s=MIDNIGHT, minutes=1, light_percent={}
    )
    system.unix -= 10 * HOUR
    assert not override.is_over(system, is_trusted=True)
    system.boot += 60
    assert override.is_over(system, is_trusted=True)


def test_a_hold_goes_before_and_an_end_is_an_end(tmp_path: Path) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: want(bench, 50, minutes=60))
    bench.system.at(65, lambda: bench.store.hold("test"))
    bench.system.at(125, bench.store.release)
    bench.system.at(900, override_file(tmp_path / "state").unlink)
    by_hand, held, _, ended = bench.watch([60, 100, 800, 3000])
    assert by_hand[1] and by_hand[0] < code(80) and held == (0, False)
    assert ended == (code(80), True)


def test_a_zone_gets_no_more_than_its_most() -> None:
    """White gives the zone 64 of 90 just now, so that 26 are left for blue, which wants 64."""

    def lit(data: dict[str, Any]) -> None:
        for about in data["channels"].values():
            about["full_ppfd"] = {"crest": 100.0}

    held = read_table("t", table((0, 80), channels=("blue", "white"), change=lit))

    class Channel:
        def light_of(self, output: Output) -> float:
            return (output.count / 100) ** 2

    channels: Any = {"blue": Channel(), "white": Channel()}
    planned = {"blue": Output(0, 0, False), "white": Output(80, 3276, True)}
    limits = Limits(light={"blue": 0.64, "white": 0.64}, ppfd_umol_m2_s={"crest": 90.0})
    found = limited(held, limits, channels, planned, {"blue": 0.9})
    assert found == {"blue": pytest.approx(0.26)}
    roomy = replace(limits, ppfd_umol_m2_s={"crest": 900.0})
    assert limited(held, roomy, channels, planned, {"blue": 0.9}) == {"blue": 0.64}
    both = limited(held, limits, channels, planned, {"blue": 0.6, "white": 0.6})
    assert both == {"blue": pytest.approx(0.45), "white": pytest.approx(0.45)}


def test_the_most_of_a_day() -> None:
    limits = limits_of(read_table("t", DAY), dt.date(2027, 3, 2))
    assert limits.light == {"blue": pytest.approx(0.64, abs=0.001)}


def test_compare_reports_what_was_given_by_hand(tmp_path: Path, run: Run) -> None:
    bench = Bench(tmp_path, DAY, unix=MIDNIGHT, stop_s=86_400)
    bench.system.at(2 * HOUR, lambda: want(bench, 25, minutes=120))
    bench.run()
    (log,) = [p for p in (tmp_path / "log").iterdir() if "03-02" in p.name]
    exit_code, out, _ = run("compare", bench.table, log, "--format", "json")
    assert exit_code == 1  # it is not what the table gives
    told = json.loads(out)
    assert any("override" in json.dumps(one) for one in told["findings"])
    blue = told["channels"]["blue"]
    # 25 % for 7200 s, of which the level rises from 10 to 50 % for the first 800 s (90 % in 1800 s):
    # (0.5³ − 0.1³) / (3 · 0.0005) + 0.25 · 6400 = 82.7 + 1600 s = 0.467 h
    assert blue["given"] - blue["planned"] == pytest.approx(0.467, abs=0.003)


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        (b"{", "Expecting"),
        (b"[]", "does not hold"),
        (b'{"format": "photoperiod-override", "version": 2}', "another format or version"),
    ],
)
def test_a_file_that_is_none_is_told_and_changes_nothing(
    tmp_path: Path, raw: bytes, why: str
) -> None:
    bench = Bench(tmp_path, STEADY)
    bench.light(code(80))
    bench.system.at(25, lambda: override_file(tmp_path / "state").write_bytes(raw))
    assert bench.watch([60]) == [(code(80), True)]
    assert any("is no override" in text and why in text for text in bench.said)


@pytest.mark.parametrize(
    "change",
    [
        {"minutes": 481},
        {"minutes": 0},
        {"light_percent": {"blue": 101.0}},
        {"light_percent": {"blue": -1.0}},
        {"from_unix_s": float("nan")},
    ],
)
def test_numbers_out_of_range_are_refused(change: dict[str, Any]) -> None:
    good = Override(
        boot_id="b",
        from_boot_s=1.0,
        from_unix_s=2.0,
        minutes=3,
        light_percent={"blue": 4.0},
        why="w",
    )
    assert of_json(as_json(good)) == good
    with pytest.raises(ValueError, match=r"out of range|0 to 100"):
        of_json(as_json(replace(good, **change)))


@given(
    st.recursive(
        st.none() | st.floats() | st.text(), lambda x: st.lists(x) | st.dictionaries(st.text(), x)
    )
)
def test_no_data_raise_anything_else(data: Any) -> None:
    for found in (data, {"format": "photoperiod-override", "version": 1, "boot_id": data,
                         "from_boot_s": data, "from_unix_s": data, "minutes": data,
                         "light_percent": data, "why": data}):  # fmt: skip
        with pytest.raises(ValueError, match=r"."):
            of_json(json.dumps(found).encode())


def test_a_file_that_cannot_be_removed_is_over_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = Bench(tmp_path, STEADY, BOARD)
    bench.light(code(80))
    bench.system.at(5, lambda: want(bench, 0, minutes=1))

    def refuse(*_: object) -> None:
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr("photoperiod.board.disk.LocalDisk.remove", refuse)
    during, after = bench.watch([30, 1900])
    assert during == (0, False) and after == (code(80), True)
    assert len([text for text in bench.said if "can't remove" in text]) == 1
