"""Board files: every fault at its line and column, with a way out."""

from __future__ import annotations

from pathlib import Path

import pytest

from photoperiod.board.board_file import BoardFile, read_board
from photoperiod.formats.table import read_table
from tests.board.bench import table
from tests.conftest import ROOT

GOOD = """\
board: 1
state_folder: state
log: {folder: log}
broker: {host: 127.0.0.1, topic: bench}
channels:
  blue:
    output: {kind: iio, device: "iio:device0", channel: 0, gain: 2.5}
    relay: {kind: led, name: relay-blue}
  white:
    output: {kind: pwm, chip: 0, channel: 1, period_ns: 1000000}
    relay: {kind: gpio, line: relay-white}
"""


def read(text: str, raw_table: bytes | None = None) -> BoardFile:
    found = read_board("board.yaml", text.encode())
    if raw_table is not None:
        found.check_table(read_table("table.json", raw_table))
    return found


def told(found: BoardFile) -> list[tuple[str, int, int]]:
    placed = [(d.code, d.source_range) for d in found.report.sorted()]
    return [(code, span.line, span.column) if span else (code, 0, 0) for code, span in placed]


BOTH = table((0, 80), channels=("blue", "white"))


def test_a_file_without_channels_names_what_it_lacks() -> None:
    bare = "board: 1\nstate_folder: state\nlog: {folder: log}\n"
    assert told(read(bare)) == [("PHO202", 1, 1)]
    assert told(read(bare + "other_channels: stdout\n", BOTH)) == []
    assert [code for code, *_ in told(read(bare + "other_channels: iio\n"))] == ["PHO204"]


def test_a_good_file_is_read_as_it_is_written() -> None:
    found = read(GOOD, BOTH)
    assert told(found) == []
    board = found.config
    assert board is not None
    here = Path("board.yaml").absolute().parent
    assert (board.state_folder, board.log_folder) == (here / "state", here / "log")
    assert (board.sysfs, board.log_every_s, board.trust) == (Path("/sys"), 60, "auto")
    output, relay = board.channels["blue"]
    assert (output.kind, output.device, output.channel, output.gain) == (
        "iio",
        "iio:device0",
        0,
        2.5,
    )
    assert (relay.kind, relay.name) == ("led", "relay-blue")
    assert board.channels["white"][0].period_ns == 1_000_000


def test_topics_follow_from_the_broker_and_the_channel() -> None:
    text = GOOD.replace('{kind: iio, device: "iio:device0", channel: 0, gain: 2.5}', "{kind: mqtt}")
    board = read(text.replace("{kind: led, name: relay-blue}", "{kind: mqtt, closed: 1x}")).config
    assert board is not None
    output, relay = board.channels["blue"]
    assert (output.topic, relay.topic) == ("bench/blue/level", "bench/blue/relay")
    assert (relay.closed, relay.open) == ("1x", "off")
    assert board.broker is not None and board.broker.expire_s == 15 * 60
    longer = read(GOOD.replace("topic: bench}", "topic: bench, expire_minutes: 240}")).config
    assert longer is not None and longer.broker is not None and longer.broker.expire_s == 240 * 60


FAULTS = [
    ("board: 1", "board: 2", "PHO210", 1, 8, "version 2"),
    ("log: {folder: log}\n", "", "PHO202", 1, 1, "the board lacks 'log'"),
    ("state_folder", "state_foldr", "PHO201", 2, 1, "unknown key 'state_foldr'"),
    ("kind: pwm", "kind: dac", "PHO204", 10, 20, "'dac' is not allowed"),
    ("period_ns: 1000000", "period_ns: 10", "PHO205", 10, 57, "at least 1000 ns"),
    ("period_ns: 1000000", "period: 1", "PHO201", 10, 46, "unknown key 'period'"),
    ("name: relay-blue", "name: ../sda", "PHO206", 8, 30, "the right form"),
    ("channel: 0, gain", "channel: one, gain", "PHO203", 7, 57, "a whole number"),
    ("  white:", "  White:", "PHO206", 9, 3, "'White' is no id"),
    ("broker: {host: 127.0.0.1, topic: bench}\n", "time_zone: Mars/Base\n", "PHO707", 4, 12,
     "no time zone 'Mars/Base'"),
    ("{kind: pwm, chip: 0, channel: 1, period_ns: 1000000}",
     '{kind: iio, device: "iio:device0", channel: 0}', "PHO703", 10, 5, "is that of 'blue'"),
    ("topic: bench}", "topic: bench, expire_minutes: 0}", "PHO205", 4, 57, "at least 1"),
    ("topic: bench}", "topic: bench, expire_minutes: 241}", "PHO205", 4, 57, "at most 240"),
    ("{kind: gpio, line: relay-white}", "{kind: led, name: relay-blue}", "PHO703", 11, 5,
     "the relay of 'white' is that of 'blue'"),
    ("{kind: led, name: relay-blue}", "{kind: gpio, line: relay-white}", "PHO703", 11, 5,
     "the relay of 'white' is that of 'blue'"),
    ("{kind: gpio, line: relay-white}", "{kind: gpio, number: 17}", "PHO201", 11, 25,
     "unknown key 'number'"),
    ("{kind: gpio, line: relay-white}", "{kind: gpio, line: 17}", "PHO203", 11, 31, "expected text"),
    ("{kind: gpio, line: relay-white}", "{kind: gpio, line: ' a'}", "PHO206", 11, 31, "the right form"),
    ("{kind: gpio, line: relay-white}", f"{{kind: gpio, line: {'a' * 32}}}", "PHO206", 11, 31,
     "the right form"),
    ("line: relay-white", "line: relay-white, drive: open", "PHO204", 11, 51, "'open' is not allowed"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "code", "line", "column", "message"), FAULTS)
def test_a_fault_has_its_place(
    old: str, new: str, code: str, line: int, column: int, message: str
) -> None:
    assert GOOD.count(old) == 1
    found = read(GOOD.replace(old, new))
    assert found.config is None
    first = found.report.sorted()[0]
    assert told(found)[0] == (code, line, column)
    assert message in first.message
    assert first.help or code == "PHO203"


def test_what_measures_a_lamp() -> None:
    sense = (
        "name: relay-blue}\n    sense:\n      contact: {line: mirror-blue, bias: pull-up, closed: 0}\n"
        "      volts: {file: v, volts_per_unit: 0.0032}\n      light: {file: /run/l, lit_above: 40}\n"
    )
    board = read(GOOD.replace("name: relay-blue}\n", sense)).config
    assert board is not None
    contact, volts, light = board.senses["blue"]
    assert (contact.kind, contact.file, contact.closed) == ("contact", "", 0)
    assert (contact.line, contact.chip, contact.bias) == ("mirror-blue", "", "pull-up")
    assert (volts.kind, volts.volts_per_unit, volts.tolerance_volts) == ("volts", 0.0032, 0.5)
    assert (light.kind, light.file, light.lit_above) == ("light", "/run/l", 40)
    assert "white" not in board.senses


@pytest.mark.parametrize(
    ("sense", "code"),
    [
        ("{}", "PHO207"),
        ("{light: {file: l}}", "PHO202"),
        ("{volts: {file: v, volts_per_unit: 0}}", "PHO205"),
        ("{smell: {file: v}}", "PHO201"),
    ],
)
def test_a_fault_in_what_measures_a_lamp(sense: str, code: str) -> None:
    found = read(GOOD.replace("name: relay-blue}\n", f"name: relay-blue}}\n    sense: {sense}\n"))
    assert [first for first, _, _ in told(found)] == [code]


@pytest.mark.parametrize(
    ("contact", "code", "column", "message"),
    [
        ("{closed: 0}", "PHO709", 7, "the contact of 'blue' has neither a `line` nor a `file`"),
        ("{line: a, file: b}", "PHO709", 7, "the contact of 'blue' has both a `line` and a `file`"),
        ("{line: relay-white}", "PHO703", 7, "reads the line of the relay of 'white'"),
        ("{file: class/gpio/gpio22/value}", "PHO206", 23, "does not have the right form"),
        ("{line: a, bias: up}", "PHO204", 32, "'up' is not allowed here"),
    ],
)
def test_a_contact_has_one_line_or_one_file(
    contact: str, code: str, column: int, message: str
) -> None:
    sense = f"name: relay-blue}}\n    sense:\n      contact: {contact}\n"
    found = read(GOOD.replace("name: relay-blue}\n", sense))
    assert told(found) == [(code, 10, column)]
    (finding,) = found.report.sorted()
    assert message in finding.message and finding.help


def test_the_number_of_a_pin_is_refused_with_the_way_out() -> None:
    found = read(GOOD.replace("line: relay-white", "number: 17, active_low: true"))
    (finding,) = found.report.sorted()
    assert finding.help is not None
    assert finding.help.startswith("this key is called 'line' now: write the name of the line")


def test_what_those_who_watch_get() -> None:
    here = Path("board.yaml").absolute().parent
    board = read(GOOD + "metrics_file: m.prom\nalarm_hook: {command: [tell, keeper]}\n").config
    assert board is not None and board.metrics_file == here / "m.prom"
    assert board.alarm_hook is not None
    assert (board.alarm_hook.command, board.alarm_hook.limit_s) == (("tell", "keeper"), 20)
    plain = read(GOOD).config
    assert plain is not None and plain.metrics_file is None and plain.alarm_hook is None


def test_an_mqtt_kind_needs_a_broker() -> None:
    text = GOOD.replace("broker: {host: 127.0.0.1, topic: bench}\n", "").replace(
        "{kind: gpio, line: relay-white}", "{kind: mqtt}"
    )
    assert told(read(text)) == [("PHO704", 10, 19)]


def test_no_text_makes_the_reader_raise() -> None:
    for text in (
        "",
        "board",
        "[1]",
        "board: 1\nchannels: []",
        "channels: {blue: 1}",
        "\x00",
        "a: &a [*a]",
    ):
        found = read_board("b", text.encode())
        assert found.config is None and found.report.has_errors


def test_the_example_is_a_board() -> None:
    path = ROOT / "examples" / "board" / "board.yaml"
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# yaml-language-server: $schema=../../schemas/board.schema.json\n")
    found = read_board(str(path), text.encode())
    assert told(found) == []
    assert found.config is not None
    assert {o.kind for o, _ in found.config.channels.values()} == {"iio", "pwm", "mqtt"}
    assert "full light" in text
