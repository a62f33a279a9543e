"""Every code of reading, shape and meaning: its line, its column, the words it marks, its message.

The table is one list of cases. A case damages a schedule without fault in one way and expects
exactly one diagnostic, so that a fault never drags others behind it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import pytest

from photoperiod.api import ScheduleError, load_with
from photoperiod.diagnostics.codes import CODES
from photoperiod.report.text import render_text
from tests.conftest import Outcome, load, naming

#: Checks of compiled days, the outside world and readings have their own tests.
ELSEWHERE = ("4", "5", "6", "7", "8", "9")

#: A schedule without fault, warning or note.
BASE = """\
schedule: 1
title: Test bench
place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}
plan_clock: standard
controller:
  clock: standard
  channels: 2
  setpoints_per_channel: 16
  time_step_minutes: 1
  between: line
  after_last_row: wrap
  relay: {kind: column}
  emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}
  converter:
    kind: two-point
    bits: 12
    points: [{code: 400, volts: 1.0}, {code: 3600, volts: 9.0}]
  port: {most_volts: 10.0, sink_milliamps: 20}
ballasts:
  pair:
    response: {kind: square-law}
    floor: {volts: 1.0, light_percent: 1}
    full_volts: 10.0
    dark: {kind: relay}
    below_floor: nearest
  bench:
    response:
      kind: measured
      points:
        - {volts: 0.6, light_percent: 2}
        - {volts: 4.0, light_percent: 20}
        - {volts: 7.0, light_percent: 60}
        - {volts: 9.5, light_percent: 100}
    floor: {volts: 0.6, light_percent: 2}
    full_volts: 9.5
    dark: {kind: standby, below_volts: 0.5}
    below_floor: dark
tubes:
  blue-a: {watts: 54, fitted: 2027-03-02}
  blue-b: {watts: 54}
zones:
  crest: {dli: [3, 9], ppfd_max: 400, dark_hours_min: 8}
channels:
  blue:
    ballast: pair
    tubes: [blue-a, blue-b]
    full_ppfd: {measured_on: 2027-02-20, zones: {crest: 130}}
    day:
      kind: ramps
      dawn: {start: 09:00, minutes: 60, shape: sine}
      peaks:
        - {light_percent: 60}
        - {from: 12:00, minutes: 30, light_percent: 80}
        - {from: 15:00, minutes: 30, light_percent: 60}
      dusk: {end: 21:00, minutes: 60}
    ballast_count: 1
  white:
    ballast: bench
    full_ppfd: {zones: {crest: 120}}
    day:
      kind: points
      points:
        - {time: 11:00, light_percent: 0}
        - {time: 13:00, light_percent: 60}
        - {time: 18:00, light_percent: 60}
        - {time: 20:00, light_percent: 0}
    moonlight: {kind: steady, light_percent: 3, start: 22:00, end: 02:00}
    ballast_count: 1
tank: bench
"""


#: The line of the place in BASE.
PLACE = "place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}\n"


@dataclass(frozen=True)
class Case:
    """One damage to BASE, or a whole file, and the one diagnostic that it must give.

    `marked` is what stands under the marks, up to the end of the first line. With `parts`, the file
    that the schedule names holds them, and `file` is where the diagnostic must stand.
    """

    code: str
    damage: list[tuple[str, str]] | bytes
    line: int
    column: int
    marked: str
    message: str
    help: str = field(default="", kw_only=True)
    parts: str = field(default="", kw_only=True)
    file: str = field(default="test.yaml", kw_only=True)

    @property
    def raw(self):
        if isinstance(self.damage, bytes):
            return self.damage
        return changed(*self.damage).encode()


#: The head of a tariff by hours.
TARIFF = "costs:\n  currency: EUR\n  tariff:\n    kind: hours\n    clock: standard\n    hours:\n"


def changed(*changes):
    text = BASE
    for old, new in changes:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times"
        text = text.replace(old, new)
    return text


def as_shown(text):
    """Return a stretch of the source as an excerpt shows it."""
    text = text.replace("\t", " ")
    return re.sub("[\x00-\x1f]", lambda found: f"\\x{ord(found[0]):02x}", text)


#: A change that lets BASE name a file of parts, and what of BASE may come from there.
NAMED = ("title: Test bench\n", "title: Test bench\nparts: p.yaml\n")
CONTROLLER = BASE[BASE.index("controller:\n") : BASE.index("ballasts:\n")]
PAIR = BASE[BASE.index("  pair:\n") : BASE.index("  bench:\n")]
IN_P = {"file": "p.yaml"}
SHARED = f"parts: 1\nballasts:\n{PAIR}"
KINDS = "parts: 1\ntube_kinds:\n  t5: {watts: 54}\nzone_kinds:\n  sps: {dli: [3, 9], dark_hours_min: 8}\n"

# fmt: off
CASES = [
    # Whole files that can't be read
    Case("PHO100", b"", 1, 1, "", "the file holds no schedule", help="`photoperiod new FILE`"),
    Case("PHO100", b"# nothing yet\n", 1, 1, "", "the file holds no schedule"),
    Case("PHO101", b"title: 'x\n", 1, 8, "'", "this quoted text never ends"),
    Case("PHO104", b"#" * 1_048_577, 1, 1, "", "more than 1,048,576 bytes"),
    Case("PHO104", b"[" + b"1," * 20_000 + b"]", 1, 40_000, "1", "more than 20,000 values"),
    Case("PHO106", b"schedule: 1\ntitle: \x1b[31mred\n", 2, 8, "\x1b", "character U+001B",
         help="text file"),
    Case("PHO106", b"\x00\x01\x02\x03", 1, 1, "\x00", "the forbidden character U+0000"),
    Case("PHO109", b"\x89PNG\r\n\x1a\n\x00\x00", 1, 1, "\ufffd", "byte 0x89 is not UTF-8"),
    Case("PHO109", "title: Öko\n".encode("latin-1"), 1, 8, "\ufffd", "byte 0xd6 is not UTF-8",
         help="as UTF-8"),
    Case("PHO109", "schedule: 1\n".encode("utf-16"), 1, 1, "\ufffd", "byte 0xff is not UTF-8"),
    Case("PHO110", b"a: " + b"[" * 3000, 1, 63, "[", "nested more than 60 levels deep"),
    Case("PHO110", b"- " * 3000, 1, 121, "-", "nested more than 60 levels deep"),
    Case("PHO203", b"[a, b]\n", 1, 1, "[a, b]", "expected a mapping, got a list",
         help="a mapping with schedule"),
    Case("PHO203", b"schedule\n", 1, 1, "schedule", "expected a mapping, got 'schedule'"),
    # Y: reading
    Case("PHO101", [("title: Test bench", "title: a: b")], 2, 9, ":", "a second ':' in one line",
         help="into quotes"),
    Case("PHO101", [("title: Test bench", "title Test bench")], 2, 1, "t", "a line without ':",
         help="a space after the colon"),
    Case("PHO101", [("clock: standard\n  channels", "clock:standard\n  channels")], 7, 11, ":",
         "a second ':' in one line, or a line indented too far",
         help="is a space missing after ':' on line 6?"),
    Case("PHO101", [("  between: line", "   between: line")], 10, 4, "b",
         "indented by 3 spaces, the line above it by 2"),
    Case("PHO101", [("  between: line", " between: line")], 10, 2, "b",
         "indented by 1 space, the lines above it by 0 or 2", help="indent the keys of one mapping alike"),
    Case("PHO101", [("  between: line", "  between:\u00a0line")], 10, 11, "\u00a0", "a hard space (U+00A0)",
         help="delete it and type a space"),
    Case("PHO101", [("[3, 9]", "[3, 9")], 42, 55, "}", "expected ',' or ']'",
         help="is a bracket not closed"),
    Case("PHO101", [("title: Test bench", 'title: "Test bench')], 2, 8, '"',
         "this quoted text never ends"),
    Case("PHO101", [
            ("title: Test bench", 'title: "C:\\tank"'),
            ("clock: standard\n  ch", 'clock: standard\n  label: "C:\\lab"\n  ch'),
         ], 7, 14, "l", "escape"),
    Case("PHO102", [("    full_volts: 10.0", "    full_volts: 10.0\n    full_volts: 9.0")], 24, 5,
         "full_volts", "the key 'full_volts' stands twice here", help="remove or rename"),
    Case("PHO102", [("  white:", "  blue:")], 57, 3, "blue", "the key 'blue' stands twice here"),
    Case("PHO102", [("dli: [3, 9],", "dli: [3, 9], 'dli': [3, 9],")], 42, 24, "'dli'",
         "the key 'dli' stands twice"),
    Case("PHO103", [("title: Test bench", "title: Test bench\n[a, b]: c")], 3, 1, "[",
         "a key is a list or a mapping", help="`key: value`"),
    Case("PHO103", [("title: Test bench", "title: &t Test bench\n*t : c")], 3, 1, "*t",
         "an alias can't be a key", help="write the word out"),
    Case("PHO105", [("channels: 2", "channels: !!int two")], 7, 13, "!!int two",
         "'two' is no !!int", help="leave the tag out"),
    Case("PHO105", [("ppfd_max: 400", "ppfd_max: !!float high")], 42, 34, "!!float high",
         "'high' is no !!float"),
    Case("PHO106", [("title: Test bench", 'title: "\\ud83d"')], 2, 8, '"\\ud83d"',
         "half of a surrogate pair"),
    Case("PHO107", [("relay: {kind: column}", "relay: !include relay.yaml")], 12, 10,
         "!include relay.yaml", "unknown tag '!include'", help="leave the tag out"),
    Case("PHO107", [("title: Test bench", "title: !!python/name:os.system Test")], 2, 8,
         "!!python/name:os.system Test", "unknown tag '!!python/name:os.system'"),
    Case("PHO108", [("  blue-b: {watts: 54}", "  blue-b: {watts: 54, <<: {}}")], 40, 23, "<<",
         "the merge key '<<' is not part of YAML 1.2", help="`*name`"),
    Case("PHO108", [
            ("  blue-a: {watts: 54", "  blue-a: &a {watts: 54"),
            ("  blue-b: {watts: 54}", "  blue-b: {<<: *a}"),
         ], 40, 12, "<<", "the merge key '<<'"),
    Case("PHO111", [("controller:\n", "---\ncontroller:\n")], 5, 1, "---",
         "another document begins here", help="one file is one schedule"),
    Case("PHO112", [("ppfd_max: 400", "ppfd_max: .inf")], 42, 34, ".inf",
         "'.inf' is not a finite number", help="write the number that is meant"),
    Case("PHO112", [("dli: [3, 9]", "dli: [3, .NaN]")], 42, 20, ".NaN",
         "'.NaN' is not a finite number"),
    Case("PHO112", [("ppfd_max: 400", "ppfd_max: 1e400")], 42, 34, "1e400",
         "'1e400' is too large for a number"),
    Case("PHO112", [("channels: 2", "channels: " + "2" * 50)], 7, 13, "2" * 50,
         "a number of 50 characters"),
    Case("PHO113", [("tubes: [blue-a, blue-b]", "tubes: &t [blue-a, *t]")], 46, 24, "*t",
         "the alias '*t' stands inside what it names"),
    Case("PHO114", [("  between: line", "\tbetween: line")], 10, 1, "\t",
         "a tab stands where YAML wants spaces", help="indent with spaces only"),
    Case("PHO114", [("    full_volts: 10.0", "  \t  full_volts: 10.0")], 23, 3, "\t",
         "a tab stands where YAML wants spaces"),
    Case("PHO115", [("    ballast: pair", "    ballast: *pair")], 45, 14, "*pair",
         "the alias '*pair' names nothing above it",
         help="mark the value to repeat with `&pair`"),
    # PHO201: unknown keys
    Case("PHO201", [("title: Test bench", "titel: Test bench")], 2, 1, "titel",
         "unknown key 'titel'", help="did you mean 'title'?"),
    Case("PHO201", [("  channels: 2", "  colour: red")], 7, 3, "colour", "unknown key 'colour'",
         help="allowed here: label, clock, channels"),
    Case("PHO201", [("full_volts: 10.0", "full_volt: 10.0")], 23, 5, "full_volt",
         "unknown key 'full_volt'", help="did you mean 'full_volts'?"),
    Case("PHO201", [("tubes: [blue-a, blue-b]", "tubess: [blue-a, blue-b]")], 46, 5, "tubess",
         "unknown key 'tubess'", help="did you mean 'tubes'?"),
    Case("PHO201", [("    ballast: bench", "    balast: bench")], 58, 5, "balast",
         "unknown key 'balast'", help="did you mean 'ballast'?"),
    Case("PHO201", [("below_volts: 0.5}", "below_volts: 0.5, light: 1}")], 36, 45, "light",
         "unknown key 'light'", help="allowed here: kind, below_volts"),
    Case("PHO201", [("dark: {kind: relay}", "dark: {kind: relay, below_volts: 0.5}")], 24, 25,
         "below_volts", "unknown key 'below_volts'", help="allowed here: kind"),
    Case("PHO201", [
            ("{time: 13:00, light_percent: 60}", "{time: 13:00, light_percent: 60, Time: 1}"),
         ], 64, 44, "Time", "unknown key 'Time'"),
    Case("PHO201", [("title: Test bench", "title: Test bench\n'': x")], 3, 1, "''", "unknown key ''"),
    Case("PHO201", [("title: Test bench", "title: Test bench\n" + "k" * 80 + ": x")], 3, 1,
         "k" * 80, "unknown key '" + "k" * 57 + "…'"),
    Case("PHO201", [("title: Test bench", "title: Test bench\nseasons: {tables: 4}")], 3, 1, "seasons",
         "unknown key 'seasons'", help="this key is called 'dated_tables' now"),
    Case("PHO201", [("floor: {volts: 1.0, light_percent: 1}", "floor: {volts: 1,0, light_percent: 1}")],
         22, 22, "0", "unknown key '0'", help="write decimals with a point: `volts: 1.0`"),
    # PHO202: missing keys
    Case("PHO202", [("schedule: 1\n", "")], 1, 1, "t", "the schedule lacks 'schedule'",
         help="The version of this language"),
    Case("PHO202", [("tank: bench\n", "")], 1, 1, "s", "the schedule lacks 'tank'"),
    Case("PHO202", [("    full_volts: 10.0\n", "")], 20, 3, "pair", "'pair' lacks 'full_volts'",
         help="Volts at and above which"),
    Case("PHO202", [("  after_last_row: wrap\n", "")], 5, 1, "controller",
         "'controller' lacks 'after_last_row'", help="What follows the last row"),
    Case("PHO202", [("{time: 13:00, light_percent: 60}", "{time: 13:00}")], 64, 11, "{time: 13:00}",
         "this item lacks 'light_percent'", help="Light at that time"),
    Case("PHO202", [("{kind: square-law}", "{}")], 21, 5, "response", "'response' lacks 'kind'",
         help="One of: linear, square-law, log-law, measured"),
    Case("PHO202", [("{start: 09:00, minutes", "{minutes")], 50, 7, "dawn",
         "'dawn' lacks 'start'", help="A clock time on the plan's clock"),
    Case("PHO202", [("kind: standby, below_volts: 0.5", "kind: standby")], 36, 5, "dark",
         "'dark' lacks 'below_volts'"),
    # PHO203: values of the wrong kind
    Case("PHO203", [("channels: 2", "channels: two")], 7, 13, "two",
         "expected a whole number, got 'two'"),
    Case("PHO203", [("bits: 12", "bits: 5.5")], 16, 11, "5.5", "expected a whole number, got 5.5"),
    Case("PHO203", [("full_volts: 10.0", "full_volts: 10 V")], 23, 17, "10 V",
         "expected a number, got '10 V'", help="write the number alone, in V"),
    Case("PHO203", [("minutes: 60, shape: sine", "minutes: 1_000, shape: sine")], 50, 37, "1_000",
         "expected a number, got '1_000'"),
    Case("PHO203", [("minutes: 60, shape: sine", "minutes: 1:00, shape: sine")], 50, 37, "1:00",
         "expected a number, got '1:00'"),
    Case("PHO203", [("full_volts: 10.0", "full_volts:")], 23, 16, "",
         "expected a number, got nothing", help="write a number after the colon"),
    Case("PHO203", [("title: Test bench", "title: 12")], 2, 8, "12", "expected text, got 12",
         help="put it into quotes"),
    Case("PHO203", [("title: Test bench", "title: true")], 2, 8, "true", "expected text, got true",
         help="put it into quotes"),
    Case("PHO203", [("title: Test bench", "title: {a: b}")], 2, 8, "{a: b}",
         "expected text, got a mapping"),
    Case("PHO203", [("start: 09:00", "start: 900")], 50, 21, "900", "expected text or a mapping, got 900",
         help="HH:MM"),
    Case("PHO203", [("    response: {kind: square-law}", "    response: square-law")], 21, 15,
         "square-law", "expected a mapping, got 'square-law'",
         help="one of linear, square-law, log-law, measured"),
    Case("PHO203", [("title: Test bench", "title: Test bench\naccept: night-not-dark")], 3, 9,
         "night-not-dark", "expected a list, got 'night-not-dark'", help="write `[…]`"),
    Case("PHO203", [("tubes: [blue-a, blue-b]", "tubes: blue-a")], 46, 12, "blue-a",
         "expected a list, got 'blue-a'", help="write `[…]`"),
    Case("PHO203", [("tubes: [blue-a, blue-b]", "tubes: [blue-a, blue-b, 3]")], 46, 29, "3",
         "expected text, got 3"),
    Case("PHO203", [("  between: line", "  between: line\n  shared_times: yes")], 11, 17, "yes",
         "expected true or false, got 'yes'", help="write true or false"),
    Case("PHO203", [("dli: [3, 9]", "dli: 3")], 42, 16, "3", "expected a list, got 3"),
    Case("PHO203", [("dli: [3, 9]", "dli: [3, nine]")], 42, 20, "nine",
         "expected a number, got 'nine'"),
    Case("PHO203", [("dli: [3, 9]", "dli: [null, 9]")], 42, 17, "null",
         "expected a number, got nothing"),
    Case("PHO203", [("between: line", "between: 5")], 10, 12, "5", "expected text, got 5"),
    Case("PHO203", [("{kind: column}", "{kind: [column]}")], 12, 17, "[column]",
         "expected text, got a list"),
    Case("PHO203", [("schedule: 1", "schedule: '1'")], 1, 11, "'1'",
         "expected a whole number, got '1'", help="write the number alone"),
    # PHO204: words that are not allowed
    Case("PHO204", [("between: line", "between: lines")], 10, 12, "lines",
         "'lines' is not allowed here", help="did you mean 'line'?"),
    Case("PHO204", [("clock: standard\n  ch", "clock: local\n  ch")], 6, 10, "local",
         "'local' is not allowed here", help="allowed here: standard, civil, utc"),
    Case("PHO204", [("{kind: square-law}", "{kind: squarelaw}")], 21, 22, "squarelaw",
         "'squarelaw' is not allowed here", help="did you mean 'square-law'?"),
    Case("PHO204", [("shape: sine", "shape: cosine")], 50, 48, "cosine",
         "'cosine' is not allowed here", help="did you mean 'sine'?"),
    Case("PHO204", [
            ("title: Test bench",
             "title: Test bench\naccept: [{finding: night-dark, because: a reef of algae}]"),
         ], 3, 20, "night-dark", "'night-dark' is not allowed here",
         help="did you mean 'night-not-dark'?"),
    # PHO205: numbers out of range
    Case("PHO205", [("latitude: 38.1", "latitude: 138.1")], 3, 19, "138.1",
         "138.1 is out of range: at most 90 °", help="from -90 to 90 °"),
    Case("PHO205", [("longitude: -29.5", "longitude: -229.5")], 3, 36, "-229.5",
         "-229.5 is out of range: at least -180 °"),
    Case("PHO205", [("full_volts: 10.0", "full_volts: 10.5")], 23, 17, "10.5",
         "10.5 is out of range: at most 10 V"),
    Case("PHO205", [("{zones: {crest: 120}}", "{zones: {crest: 6500}}")], 59, 32, "6500",
         "6500 looks like lux: full sun is about 2,000", help="what a lux is worth hangs on the spectrum"),
    Case("PHO205", [("full_volts: 10.0", "full_volts: 0")], 23, 17, "0",
         "0 is out of range: more than 0 V"),
    Case("PHO205", [("light_percent: 80", "light_percent: 180")], 53, 53, "180",
         "180 is out of range: at most 100 % of full light",
         help="from 0 to 100 % of full light. Light of the peak."),
    Case("PHO205", [("light_percent: 80", "light_percent: -8")], 53, 53, "-8",
         "-8 is out of range: at least 0 % of full light"),
    Case("PHO205", [("bits: 12", "bits: 24")], 16, 11, "24", "24 is out of range: at most 16 bits"),
    Case("PHO205", [("setpoints_per_channel: 16", "setpoints_per_channel: 0")], 8, 26, "0",
         "0 is out of range: at least 1"),
    Case("PHO205", [("dli: [3, 9]", "dli: [3, 900]")], 42, 20, "900",
         "900 is out of range: at most 200"),
    Case("PHO205", [("light_percent: 80", "light_percent: 1e30")], 53, 53, "1e30",
         "is out of range: at most 100 % of full light"),
    # PHO206: text of the wrong form
    Case("PHO206", [("start: 09:00", "start: 25:00")], 50, 21, "25:00",
         "'25:00' does not have the right form", help="from 00:00 to 23:59:59"),
    Case("PHO206", [("start: 09:00", "start: 24:00")], 50, 21, "24:00",
         "'24:00' does not have the right form", help="from 00:00 to 23:59:59"),
    Case("PHO206", [("start: 09:00", "start: nine")], 50, 21, "nine",
         "'nine' does not have the right form", help="HH:MM"),
    Case("PHO206", [("start: 09:00", "start: 9:00 am")], 50, 21, "9:00 am",
         "'9:00 am' does not have the right form"),
    Case("PHO206", [("start: 09:00", "start: 09:60")], 50, 21, "09:60",
         "'09:60' does not have the right form"),
    Case("PHO206", [("start: 09:00", "start: '٠٩:٠٠'")], 50, 21, "'٠٩:٠٠'",
         "does not have the right form"),
    Case("PHO206", [("start: 09:00", 'start: "09:00\\n"')], 50, 21, '"09:00\\n"',
         "does not have the right form"),
    Case("PHO206", [("end: 21:00", "end: 24:30")], 55, 19, "24:30",
         "'24:30' does not have the right form", help="from 00:00 to 24:00"),
    Case("PHO206", [("fitted: 2027-03-02", "fitted: 2 March 2027")], 39, 31, "2 March 2027",
         "'2 March 2027' does not have the right form", help="YYYY-MM-DD"),
    Case("PHO206", [("fitted: 2027-03-02", "fitted: 2027-03-02T10:00Z")], 39, 31,
         "2027-03-02T10:00Z", "'2027-03-02T10:00Z' does not have the right form",
         help="YYYY-MM-DDTHH:MM"),
    Case("PHO206", [("measured_on: 2027-02-20", "measured_on: 20.2.2027")], 47, 30, "20.2.2027",
         "'20.2.2027' does not have the right form", help="a date is YYYY-MM-DD"),
    Case("PHO206", [("  white:", "  White:")], 57, 3, "White", "'White' is no id",
         help="an id is small letters"),
    Case("PHO206", [("  white:", "  ../white:")], 57, 3, "../white", "'../white' is no id",
         help="an id is small letters"),
    Case("PHO206", [("  white:", '  "white\\n":')], 57, 3, '"white\\n"', "is no id",
         help="an id is small letters"),
    Case("PHO206", [("  white:", "  1:")], 57, 3, "1", "'1' is no id", help="begins with a letter"),
    Case("PHO206", [("  white:", "  " + "w" * 41 + ":")], 57, 3, "w" * 41, "is no id",
         help="at most 40 characters"),
    Case("PHO206", [("    ballast: pair", "    ballast: Pair")], 45, 14, "Pair",
         "'Pair' does not have the right form", help="an id is small letters"),
    Case("PHO206", [("tubes: [blue-a, blue-b]", "tubes: [blue-a, blue-b, '']")], 46, 29, "''",
         "'' does not have the right form"),
    # PHO207: counts
    Case("PHO207", [("title: Test bench", "title: ''")], 2, 8, "''",
         "0 characters, but at least 1 is needed"),
    Case("PHO207", [("title: Test bench", "title: " + "t" * 201)], 2, 8, "t" * 201,
         "201 characters, but at most 200 are allowed"),
    Case("PHO207", [("dli: [3, 9]", "dli: [3]")], 42, 16, "[3]", "1 item, but at least 2 are needed"),
    Case("PHO207", [("dli: [3, 9]", "dli: [3, 6, 9]")], 42, 16, "[3, 6, 9]",
         "3 items, but at most 2 are allowed"),
    Case("PHO207", [("measured_on: 2027-02-20, zones: {crest: 130}", "zones: {}")], 47, 24, "{}",
         "0 entries, but at least 1 is needed"),
    Case("PHO207", [
            ("title: Test bench",
             "title: Test bench\naccept: [{finding: night-not-dark, because: algae}]"),
         ], 3, 45, "algae", "5 characters, but at least 8 are needed"),
    Case("PHO207", [
            ("        - {time: 13:00, light_percent: 60}\n", ""),
            ("        - {time: 18:00, light_percent: 60}\n", ""),
            ("        - {time: 20:00, light_percent: 0}\n", ""),
         ], 63, 9, "-", "but at least 2 are needed"),
    # PHO208: items that stand twice
    Case("PHO208", [("tubes: [blue-a, blue-b]", "tubes: [blue-a, blue-b, blue-a]")], 46, 29,
         "blue-a", "'blue-a' stands twice in this list", help="remove one of the two"),
    Case("PHO208", [
            ("title: Test bench",
             "title: Test bench\n"
             "accept: [{finding: night-not-dark, channels: [blue, blue], because: a reef "
             "of algae}]"),
         ], 3, 53, "blue", "'blue' stands twice in this list"),
    # PHO209: what is reserved
    Case("PHO209", [("title: Test bench", "title: Test bench\nchanges: [{kind: cloudy-days}]")], 3,
         18, "cloudy-days", "days that are dimmed by chance are not built yet", help="`kind: other-day`"),
    # PHO210: the version
    Case("PHO210", [("schedule: 1", "schedule: 2")], 1, 11, "2",
         "this is version 2 of the language, not 1", help="begin it with `schedule: 1`"),
    Case("PHO210", [("schedule: 1", "schedule: 0")], 1, 11, "0",
         "this is version 0 of the language, not 1"),
    # PHO301: names
    Case("PHO301", [("    ballast: pair", "    ballast: pare")], 45, 14, "pare",
         "there is no ballast 'pare'", help="did you mean 'pair'?"),
    Case("PHO301", [("[blue-a, blue-b]", "[blue-a, blue-c]"), ("  blue-b: {watts: 54}\n", "")], 45,
         21, "blue-c", "there is no tube 'blue-c'", help="did you mean 'blue-a'?"),
    Case("PHO301", [("zones: {crest: 120}", "zones: {crest: 120, sand: 40}")], 59, 37, "sand",
         "there is no zone 'sand'", help="allowed here: crest"),
    Case("PHO301", [("Atlantic/Azores", "Atlantic/Azoren")], 3, 54, "Atlantic/Azoren",
         "there is no time zone 'Atlantic/Azoren'", help="did you mean 'Atlantic/Azores'?"),
    Case("PHO301", [
            ("title: Test bench",
             "title: Test bench\n"
             "accept: [{finding: night-not-dark, channels: [blau], because: a reef of algae}]"),
         ], 3, 47, "blau", "there is no channel 'blau'", help="did you mean 'blue'?"),
    Case("PHO301", [
            ("title: Test bench",
             "title: Test bench\n"
             "accept: [{finding: ppfd-above-most, zones: [crust], because: a reef of algae}]"),
         ], 3, 45, "crust", "there is no zone 'crust'", help="did you mean 'crest'?"),
    Case("PHO301", [("    ballast: bench", "    ballast: bench\n    tubes: [white-a]")], 59, 13,
         "white-a", "there is no tube 'white-a'"),
    Case("PHO301", [("[blue-a, blue-b]", "[blue-a, blue-bb]")], 46, 21, "blue-bb",
         "there is no tube 'blue-bb'", help="did you mean 'blue-b'?"),
    # PHO302 to PHO306: tubes in two places, days and dates
    Case("PHO302", [("    ballast: bench", "    ballast: bench\n    tubes: [blue-b]")], 59, 13,
         "blue-b", "tube 'blue-b' already burns on channel 'blue'",
         help="a tube stands on one channel"),
    Case("PHO303", [("from: 15:00", "from: 11:30")], 54, 18, "11:30",
         "11:30 comes before 12:00, where the ramp before it begins",
         help="in the order in which they happen"),
    Case("PHO303", [("{time: 18:00", "{time: 12:00")], 65, 18, "12:00",
         "12:00 comes before 13:00, the point above it",
         help="in the order in which they happen"),
    Case("PHO303", [("{time: 18:00", "{time: 02:00"), ("{time: 20:00", "{time: 01:00")], 66, 18,
         "01:00", "01:00 comes before 02:00 the next morning, the point above it"),
    Case("PHO303", [("{time: 13:00", "{time: 11:00"), ("{time: 18:00", "{time: 11:00")], 65, 18,
         "11:00", "a third point at 11:00"),
    Case("PHO304", [("from: 12:00", "from: 09:30")], 53, 18, "09:30",
         "this ramp begins at 09:30, 30 minutes before the ramp before it ends at 10:00",
         help="by 30 minutes"),
    Case("PHO304", [("from: 15:00", "from: 12:29")], 54, 18, "12:29",
         "this ramp begins at 12:29, 1 minute before", help="by 1 minute"),
    Case("PHO304", [("end: 21:00, minutes: 60", "end: 21:00, minutes: 400")], 55, 19, "21:00",
         "dusk begins at 14:20, 70 minutes before the ramp before it ends at 15:30",
         help="by 70 minutes"),
    Case("PHO304", [("end: 21:00, minutes: 60", "end: 21:00, minutes: 1440")], 55, 19, "21:00",
         "dusk begins at 21:00 the day before"),
    Case("PHO303", [("from: 15:00", "from: 08:00")], 54, 18, "08:00", "08:00"),
    Case("PHO305", [("{time: 18:00", "{time: 10:00"), ("{time: 20:00", "{time: 11:30")], 66, 18,
         "11:30", "the day lasts 24.5 hours up to this point", help="at most 24 hours"),
    Case("PHO305", [("end: 21:00", "end: 09:00")], 55, 19, "09:00",
         "it ends at 09:00, when it begins: a day of 24 hours, or of none",
         help="from 00:00 to 24:00"),
    Case("PHO305", [("end: 02:00", "end: 22:00")], 67, 68, "22:00",
         "it ends at 22:00, when it begins"),
    Case("PHO306", [("fitted: 2027-03-02", "fitted: 2027-02-30")], 39, 31, "2027-02-30",
         "there is no such date as 2027-02-30"),
    Case("PHO306", [("fitted: 2027-03-02", "fitted: 2027-13-02T10:00")], 39, 31, "2027-13-02T10:00",
         "there is no such date as 2027-13-02T10:00", help="months are 01 to 12"),
    Case("PHO306", [("fitted: 2027-03-02", "fitted: 1800-03-02")], 39, 31, "1800-03-02",
         "1800-03-02 is before any tube that still burns"),
    Case("PHO306", [("measured_on: 2027-02-20", "measured_on: 2027-02-29")], 47, 30, "2027-02-29",
         "there is no such date as 2027-02-29"),
    Case("PHO306", [("measured_on: 2027-02-20", "measured_on: 0000-01-01")], 47, 30, "0000-01-01",
         "there is no such date as 0000-01-01"),
    # PHO307 to PHO313: ballasts
    Case("PHO307", [("relay: {kind: column}", "relay: {kind: none}")], 24, 11, "{kind: relay}",
         "only a relay makes 'pair' dark, but the controller has none",
         help="`dark: {kind: never}`"),
    Case("PHO308", [("floor: {volts: 1.0, ", "floor: {volts: 10, ")], 22, 20, "10",
         "the floor at 10 V is not below full at 10 V", help="usually at 10 V"),
    Case("PHO308", [("volts: 1.0, light_percent: 1}", "volts: 1.0, light_percent: 100}")], 22, 40,
         "100", "the floor gives as much light as full", help="of 1 to 100 % it is 1"),
    Case("PHO309", [("below_volts: 0.5", "below_volts: 0.7")], 36, 40, "0.7",
         "standby below 0.7 V reaches above the floor at 0.6 V"),
    Case("PHO310", [("{volts: 7.0, light_percent: 60}", "{volts: 7.0, light_percent: 15}")], 32, 39,
         "15", "the light has fallen by 5 % of full here", help="measure again"),
    Case("PHO310", [("{volts: 7.0, light_percent: 60}", "{volts: 3.0, light_percent: 60}")], 32, 19,
         "3.0", "3 V does not rise above the 4 V before it", help="in the order of their volts"),
    Case("PHO310", [("{volts: 7.0, light_percent: 60}", "{volts: 4.0, light_percent: 60}")], 32, 19,
         "4.0", "4 V does not rise above the 4 V before it"),
    Case("PHO311", [
            ("{volts: 7.0, light_percent: 60}",
             "{volts: 7.0, light_percent: 60}\n        - {volts: 8.0, light_percent: 59}"),
         ], 29, 7, "points", "1 small dip was levelled, by at most 0.5 % of full"),
    Case("PHO311", [
            ("{volts: 7.0, light_percent: 60}",
             "{volts: 5.0, light_percent: 19}\n        - {volts: 7.0, light_percent: 60}\n"
             "        - {volts: 8.0, light_percent: 59}"),
         ], 29, 7, "points", "2 small dips were levelled, by at most 0.5 % of full"),
    Case("PHO312", [("{volts: 7.0, light_percent: 60}", "{volts: 7.0, light_percent: 20}")], 32, 39,
         "20", "from 4 V to 7 V the light does not change"),
    Case("PHO313", [
            ("{volts: 0.6, light_percent: 2}\n        - {volts: 4",
             "{volts: 0.7, light_percent: 2}\n        - {volts: 4"),
         ], 30, 11, "{volts: 0.7, light_percent: 2}",
         "the first point is not floor: 0.6 V and 2 %",
         help="add it, or correct floor or full_volts"),
    Case("PHO313", [("light_percent: 100}", "light_percent: 98}")], 33, 11,
         "{volts: 9.5, light_percent: 98}", "the last point is not full: 9.5 V and 100 %"),
    # PHO314: calibration
    Case("PHO314", [("code: 3600", "code: 5000")], 17, 13,
         "[{code: 400, volts: 1.0}, {code: 5000, volts: 9.0}]",
         "code 5000 does not fit into 12 bits", help="two codes well apart"),
    Case("PHO314", [("code: 3600", "code: 400")], 17, 13,
         "[{code: 400, volts: 1.0}, {code: 400, volts: 9.0}]", "both points are at code 400"),
    Case("PHO314", [("volts: 9.0", "volts: 0.5")], 17, 13,
         "[{code: 400, volts: 1.0}, {code: 3600, volts: 0.5}]",
         "code 3600 gives no more volts than code 400"),
    Case("PHO314", [
            ("volts: 1.0}, {code", "volts: 9.0}, {code"),
            ("volts: 9.0}]", "volts: 9.5}]"),
            ("most_volts: 10.0", "most_volts: 5.0"),
         ], 17, 13, "[{code: 400, volts: 9.0}, {code: 3600, volts: 9.5}]",
         "by these points code 0 gives 8.94 V, above the top of the port"),
    Case("PHO314", [
            ("floor: {volts: 1.0, light_percent: 1}", "floor: {volts: 3.0, light_percent: 1}"),
            ("most_volts: 10.0", "most_volts: 2.0"),
         ], 22, 20, "3.0", "the port's top, 2 V, is below the floor of 'pair'"),
    Case("PHO314", [
            ("volts: 1.0}, {code", "volts: 1.4}, {code"),
            ("volts: 9.0}]", "volts: 9.4}]"),
            ("floor: {volts: 1.0,", "floor: {volts: 0.3,"),
         ], 22, 20, "0.3", "the port gives at least 0.4 V, so 'pair' can never reach its floor",
         help="a resistor across the pair"),
    Case("PHO314", [
            ("volts: 1.0}, {code", "volts: 1.55}, {code"),
            ("volts: 9.0}]", "volts: 9.55}]"),
            ("below_volts: 0.5}", "below_volts: 0.5, keeps_mains: true}"),
         ], 36, 40, "0.5",
         "the port gives at least 0.55 V, so 'bench' can never go into standby"),
    # PHO315: steps
    Case("PHO315", [("time_step_minutes: 1", "time_step_minutes: 7")], 9, 22, "7",
         "steps of 7 minutes do not divide 24 hours", help="use a divisor"),
    Case("PHO315", [("time_step_minutes: 1", "time_step_minutes: 0.01")], 9, 22, "0.01",
         "steps of 0.01 minutes do not divide 24 hours"),
    Case("PHO315", [("step: 1,", "step: 3,")], 13, 32, "3",
         "a step of 3 does not divide 100 percent", help="1, 0.5 or 0.1 percent"),
    Case("PHO315", [("unit: percent, step: 1,", "unit: millivolts, step: 7,")], 13, 35, "7",
         "a step of 7 does not divide 10,000 millivolts", help="10 millivolts"),
    Case("PHO315", [("unit: percent, step: 1,", "unit: code, step: 1.5,")], 13, 29, "1.5",
         "a step of 1.5 does not divide into whole codes"),
    Case("PHO315", [("unit: percent, step: 1,", "unit: code, step: 5000,")], 13, 29, "5000",
         "a step of 5000 codes is larger than the top code 4000"),
    Case("PHO315", [("step: 1,", "step: 0.0001,")], 13, 32, "0.0001",
         "a step this small makes too many levels; at most 100,000 are handled",
         help="use a larger step"),
    Case("PHO315", [("every_seconds: 1,", "every_seconds: 120,")], 13, 50, "120",
         "the output moves every 120 s", help="a divisor of the time step"),
    Case("PHO315", [("every_seconds: 1,", "every_seconds: 7,")], 13, 50, "7",
         "the output moves every 7 s, which does not divide the time step of 60 s"),
    # PHO316 to PHO322: what must fit together
    Case("PHO316", [
            ("    moonlight: {kind: steady, light_percent: 3, start: 22:00, end: 02:00}\n",
             "    ballast_count: 1\n  red:\n    ballast: pair\n    full_ppfd: {zones: {crest: 3}}\n"),
         ], 68, 3, "red", "channel 'red' has neither a day nor moonlight",
         help="add `day:` or `moonlight:`"),
    Case("PHO317", [("zones:\n  crest", "zones:\n  sand: {dark_hours_min: 8}\n  crest")], 42, 3,
         "sand", "no channel gives zone 'sand' any light", help="name it under `full_ppfd"),
    Case("PHO317", [
            ("zones:\n  crest", "zones:\n  sand: {dark_hours_min: 8}\n  crest"),
            ("zones: {crest: 120}", "zones: {crest: 120, sand: 0}"),
         ], 42, 3, "sand", "no channel gives zone 'sand' any light"),
    Case("PHO318", [("  blue-b: {watts: 54}", "  blue-b: {watts: 54}\n  spare: {watts: 54}")], 41,
         3, "spare", "tube 'spare' burns on no channel",
         help="list it on a channel, or remove it"),
    Case("PHO318", [
            ("  pair:\n",
             "  spare:\n"
             "    {response: {kind: linear}, floor: {volts: 1, light_percent: 1}, "
             "full_volts: 9, dark: {kind: never}}\n  pair:\n"),
         ], 20, 3, "spare", "no channel uses ballast 'spare'"),
    Case("PHO318", [("plan_clock: standard\n", "plan_clock: standard\ndated_tables: {tables: 3}\n")], 5, 1,
         "dated_tables", "'dated_tables' changes nothing: no channel follows the sun or the moon",
         help="or remove it"),
    Case("PHO319", [("dli: [3, 9]", "dli: [9, 3]")], 42, 16, "[9, 3]", "9 is above 3",
         help="write [3, 9]"),
    Case("PHO319", [
            ("    below_floor: nearest",
             "    below_floor: nearest\n    watts: {full: 25, floor: 118}"),
         ], 26, 30, "118", "the floor takes more power than full", help="swap them"),
    Case("PHO320", [
            ("    dark: {kind: relay}", "    dark: {kind: never}"),
            ("blue-b: {watts: 54}", "blue-b: {watts: 54, burn_in_full_hours: 12}"),
         ], 40, 43, "12",
         "tube 'blue-b' is to burn in on channel 'blue', whose ballast is never dark",
         help="enter the hours as `lit_hours`"),
    Case("PHO321", [("- {light_percent: 60}", "- {light_percent: 60, from: 10:00}")], 52, 31,
         "from", "the first peak begins where dawn ends, so it has no 'from'",
         help="write it into `dawn`, or remove it"),
    Case("PHO321", [("- {light_percent: 60}", "- {light_percent: 60, minutes: 30}")], 52, 31,
         "minutes", "it has no 'minutes'"),
    Case("PHO321", [("- {light_percent: 60}", "- {light_percent: 60, shape: sine}")], 52, 31,
         "shape", "it has no 'shape'"),
    Case("PHO321", [
            ("{from: 12:00, minutes: 30, light_percent: 80}", "{from: 12:00, light_percent: 80}"),
         ], 53, 11, "{from: 12:00, light_percent: 80}", "a peak after the first lacks 'minutes'",
         help="when its ramp begins and how many minutes"),
    Case("PHO321", [
            ("{from: 12:00, minutes: 30, light_percent: 80}", "{minutes: 30, light_percent: 80}"),
         ], 53, 11, "{minutes: 30, light_percent: 80}", "a peak after the first lacks 'from'"),
    Case("PHO321", [("{from: 12:00, minutes: 30, light_percent: 80}", "{light_percent: 80}")], 53,
         11, "{light_percent: 80}", "a peak after the first lacks 'from' and 'minutes'"),
    Case("PHO322", [("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 20}")],
         12, 50, "20", "its floor is at 10 %", help="choose from 1 to 10 %"),
    Case("PHO322", [
            ("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 0.5}"),
         ], 12, 50, "0.5", "one step of the controller is 1 %", help="choose from 1 to 10 %"),
    # PHO323 to PHO326: notes and light that is not counted
    Case("PHO323", [("start: 09:00", "start: 09:00:30")], 44, 3, "blue",
         "channel 'blue' changes its course at 09:00:30, 10:00:30, off the controller"),
    Case("PHO323", [
            ("time_step_minutes: 1", "time_step_minutes: 20"),
            ("end: 02:00", "end: 02:10"),
            ("from: 15:00, minutes: 30", "from: 15:00, minutes: 40"),
            ("from: 12:00, minutes: 30", "from: 12:00, minutes: 40"),
         ], 57, 3, "white",
         "channel 'white' changes its course at 02:10, off the controller's grid of 20 min"),
    Case("PHO324", [("    below_floor: nearest\n", "")], 20, 3, "pair",
         "'below_floor' is taken as nearest: 'pair' is dark for light below 0.5 %",
         help="say what is to become of light below the floor"),
    Case("PHO324", [(", dark_hours_min: 8}", "}")], 42, 3, "crest",
         "'dark_hours_min' of zone 'crest' is taken as 8 h"),
    Case("PHO324", [
            ("  emits: {unit: percent, step: 1, every_seconds: 1, rounding: half-up}\n", ""),
         ], 5, 1, "controller",
         "'emits' is taken as whole percents, moved every second, rounded half up"),
    Case("PHO324", [("  time_step_minutes: 1\n", "")], 5, 1, "controller",
         "'time_step_minutes' is taken as 1"),
    Case("PHO326", [("end: 21:00", "end: 03:00")], 55, 19, "03:00",
         "the day ends at 03:00, before it starts at 09:00", help="`ends_next_day: true` for a day of 18 h"),
    Case("PHO303", [("start: 09:00, minutes: 60", "start: 10:00, end: 09:00")], 50, 33, "09:00",
         "dawn would end at 09:00, before it starts at 10:00", help="swap the two times"),
    Case("PHO324", [("blue-b: {watts: 54}",
                   "blue-b: {watts: 54, depreciation: {kind: exponential, loss_percent_per_1000_h: 2}}"),
                  ("measured_on: 2027-02-20, ", "")],
         47, 5, "full_ppfd", "'full_ppfd' of channel 'blue' is taken as measured with tubes of a hundred"),
    Case("PHO324", [("blue-b: {watts: 54}", "blue-b: {watts: 54, fitted: 2027-01-05}"),
                  ("measured_on: 2027-02-20, ", "")],
         47, 5, "full_ppfd", "'full_ppfd' of channel 'blue' is taken as measured with the tubes that it has"),
    Case("PHO327", [("blue-b: {watts: 54}",
                   "blue-b: {watts: 54, burn_in_full_hours: 12, replace_after_hours: 10}")], 40, 43, "12",
         "a burn-in of 12 h does not fit into the 10 h before the tube is to be replaced"),
    Case("PHO327", [("blue-b: {watts: 54}",
                   "blue-b: {watts: 54, burn_in_full_hours: 12, lit_hours: 95, replace_after_hours: 100}")],
         40, 43, "12", "does not fit into the 5 h before"),
    # PHO329 to PHO332: the sky, clocks and seasons
    Case("PHO329", [(PLACE, ""), ("  clock: standard\n", "  clock: civil\n")], 5, 10, "civil",
         "a civil controller clock under a standard plan clock needs a time zone",
         help="write `place: "),
    Case("PHO329", [(PLACE, ""), ("start: 09:00", "start: sunrise")], 43, 3, "blue",
         "channel 'blue' follows the sky, but the schedule has no place"),
    Case("PHO329", [("place: {latitude: 38.1, longitude: -29.5, time_zone: Atlantic/Azores}",
                   "sky: {noon_at: 13:00}")], 3, 1, "sky",
         "a borrowed sky needs a place to be brought to"),
    Case("PHO319", [("start: 09:00", 'start: {at: sunrise, not_before: "09:00", not_after: "07:00"}')],
         50, 47, '"09:00"', "not before 09:00 and not after 07:00: no time is both"),
    Case("PHO330", [
            ("title: Test bench", "title: Test bench\ndated_tables: {tables: 4, dose_error_percent: 2}"),
         ], 3, 27, "dose_error_percent", "'dose_error_percent' and 'tables' exclude each other"),
    Case("PHO330", [("title: Test bench", "title: Test bench\ndated_tables: {tables: 4, moon: {tables: 2}}")],
         3, 16, "tables", "'tables' and 'moon' exclude each other", help="write it under `sun`"),
    Case("PHO339", [("title: Test bench", "title: Test bench\ndated_tables: {moon: {tables: 2}}"),
                    ("  between: line\n", "  between: line\n  shared_times: true\n")],
         3, 16, "moon", "'moon' can't be asked apart: with `shared_times`", help="{tables: 12}"),
    Case("PHO331", [("title: Test bench", "title: Test bench\nclock_change_minutes_per_day: 5")], 3, 1,
         "clock_change_minutes_per_day", "means nothing under a plan clock that never changes",
         help="write `plan_clock: civil`"),
    Case("PHO333", [("longitude: -29.5", "longitude: 29.5")], 3, 36, "29.5",
         "the sun's noon is about 09:02 there by the clock of Atlantic/Azores", help="is the sign right"),
    Case("PHO335", [("floor: {volts: 1.0, light_percent: 1}", "floor: {volts: 1.0, light_percent: 0.03}")],
         22, 40, "0.03", "a floor of 0.03 % of full light: was 3 % meant?",
         help="92 for 92 %"),
    Case("PHO332", [(", minutes: 60, shape: sine}", ", shape: sine}")], 50, 7, "dawn",
         "it needs 'minutes' or 'end', and has neither"),
    Case("PHO332", [("dusk: {end: 21:00, minutes: 60}", "dusk: {end: 21:00, minutes: 60, start: 20:00}")],
         55, 7, "dusk", "it needs 'minutes' or 'start', not both"),
    Case("PHO303", [("dusk: {end: 21:00, minutes: 60}", "dusk: {end: 21:00, start: 22:00}")],
         55, 33, "22:00", "dusk would begin at 22:00, after its end at 21:00"),
    Case("PHO328", [("blue-b: {watts: 54}",
                   "blue-b: {watts: 54, depreciation: {kind: points, points: [{lit_hours: 100,"
                   " light_percent: 100}, {lit_hours: 90, light_percent: 95}]}}")], 40, 111, "90",
         "90 h does not come after 100 h"),
    Case("PHO328", [("blue-b: {watts: 54}",
                   "blue-b: {watts: 54, depreciation: {kind: points, points: [{lit_hours: 100,"
                   " light_percent: 90}, {lit_hours: 900, light_percent: 95}]}}")], 40, 130, "95",
         "the light rises from 90 to 95 % with the hours"),
    Case("PHO325", [
            ("    ballast: bench\n    full_ppfd: {zones: {crest: 120}}\n", "    ballast: bench\n"),
         ], 57, 3, "white", "the light of channel 'white' is counted in no zone",
         help="write `full_ppfd`"),
    Case("PHO337", [("blue-b: {watts: 54}", "blue-b: {watts: 54, place: blue-a, removed: 2027-03-03}")],
         40, 47, "2027-03-03", "tube 'blue-b' is removed after tube 'blue-a' was fitted in its place"),
    Case("PHO337", [("fitted: 2027-03-02}", "fitted: 2027-03-02, removed: 2027-03-02}"),
                    ("blue-b: {watts: 54}", "blue-b: {watts: 54, place: blue-a, fitted: 2027-03-04}")],
         39, 52, "2027-03-02", "tube 'blue-a' was removed before it was fitted"),
    Case("PHO337", [("blue-b: {watts: 54}", "blue-b: {watts: 54, place: blue-a, fitted: 2027-03-02}")], 40, 3,
         "blue-b", "tubes 'blue-a' and 'blue-b' are in place 'blue-a' at one time"),
    Case("PHO338", [("blue-b: {watts: 54}", "blue-b: {watts: 54, removed: 2027-03-03}")],
         40, 32, "2027-03-03", "after tube 'blue-b' its place 'blue-b' is empty"),
    Case("PHO334", [
            ("zones:\n  crest", "zones:\n  sand: {dark_hours_min: 8}\n  crest"),
            ("zones: {crest: 120}", "zones: {crest: 120, sand: 3}"),
         ], 48, 42, "zones", "channel 'blue' leaves out zone 'sand': what it gives there is not known",
         help="write `sand: 0` if none of its light falls there"),
    Case("PHO324", [("minutes: 60}\n    ballast_count: 1\n", "minutes: 60}\n")], 44, 3, "blue",
         "'ballast_count' of channel 'blue' is taken as 1", help="how many ballasts are on the output"),
    # 2 × 54 W beside 1 × 70 W: 108 / 70 = 1.54
    Case("PHO336", [
            ("    below_floor: nearest\n",
             "    below_floor: nearest\n    watts: {full: 70, floor: 25}\n"),
         ], 45, 3, "blue",
         "the tubes of channel 'blue' have 108 W together, its ballast 70 W", help="`ballast_count`"),
    Case("PHO340", [("zones:\n  crest: {dli: [3, 9],", "zones:\n  crest: {wanted_dli: 6,")], 42, 23, "6",
         "no day can be found for the dose of zone 'crest': no channel that lights it may move",
         help="`may_move: {peak_light_percent: [40, 90]}`"),
    Case("PHO341", [
            ("crest: {dli: [3, 9],", "crest: {wanted_dli: 6,"),
            ("zones: {crest: 120}}\n", "zones: {crest: 120}}\n    may_move: {day_hours: [8, 12]}\n"),
         ], 60, 15, "{day_hours: [8, 12]}",
         "the day of channel 'white' can't move: it is not of ramps by the clock", help="`kind: ramps`"),
    Case("PHO342", [
            ("crest: {dli: [3, 9],", "crest: {wanted_dli: 9.5, dli: [3, 9],"),
            ("zones: {crest: 130}}\n", "zones: {crest: 130}}\n    may_move: {day_hours: [8, 12]}\n"),
         ], 42, 23, "9.5", "zone 'crest' asks for 9.5 mol m⁻² d⁻¹, outside its limits of 3 to 9",
         help="within `dli`"),
    Case("PHO350", [("zones:\n  crest", f"{TARIFF}      - {{start: 07:00, end: 24:00, per_kwh: 0.2}}\n"
                     "zones:\n  crest")], 46, 5, "hours", "from 00:00 to 07:00 power has no price"),
    Case("PHO351", [("zones:\n  crest", f"{TARIFF}      - {{start: 00:00, end: 24:00, per_kwh: 0.2}}\n"
                     "      - {start: 07:00, end: 22:00, per_kwh: 0.3}\nzones:\n  crest")],
         48, 9, "{start: 07:00, end: 22:00, per_kwh: 0.3}", "from 07:00 to 22:00 power has two prices"),
    Case("PHO352", [("blue-b: {watts: 54}", "blue-b: {watts: 54, price: 14.5}")], 40, 30, "14.5",
         "the price of tube 'blue-b' has no currency", help="`costs: {currency: EUR}`"),
    Case("PHO353", [
            ("zones: {crest: 130}}\n", "zones: {crest: 130}}\n    hold_light: {dose_within_percent: 3}\n"),
         ],
         48, 17, "{dose_within_percent: 3}",
         "the light of channel 'blue' can't be held: nothing says how its tubes fade", help="`depreciation`"),
    # PHO360 on: changes over dates
    Case("PHO360", [("tank: bench", """tank: bench
changes:
  - {kind: dark-days, from_date: 2027-06-07, days: 3}
  - {kind: dark-days, from_date: 2027-06-09, days: 3, channels: [blue]}""")], 72, 5,
         "{kind: dark-days, from_date: 2027-06-09, days: 3, channels: [blue]}",
         "two changes darken channel 'blue' on 2027-06-09", help="change the dates or the channels"),
    Case("PHO361", [("tank: bench", """tank: bench
changes:
  - {kind: moved-hours, from_date: 2027-06-07, minutes_per_day: 5, minutes: 0}""")], 71, 77, "0",
         "the day moves by 0 minutes", help="below 0 to earlier hours"),
    Case("PHO362", [("tank: bench", """tank: bench
changes:
  - {kind: part-out, from_date: 2027-06-07, tube: blue-a}""")], 71, 5,
         "{kind: part-out, from_date: 2027-06-07, tube: blue-a}",
         "a part that is out is told by `tube` and `ballast`", help="ballast: stops}`"),
    # PHO370 on: parts that tanks share
    Case("PHO370", [("title: Test bench\n", "title: Test bench\nparts: none/p.yaml\n"), (PAIR, "")],
         3, 8, "none/p.yaml", "can't read 'none/p.yaml': no such file or folder",
         help="from the folder of the schedule"),
    Case("PHO371", [NAMED], 21, 3, "pair", "'pair' stands here and in 'p.yaml'", help="remove one",
         parts=SHARED),
    Case("PHO371", [NAMED], 6, 1, "controller", "'controller' stands here and in 'p.yaml'",
         parts=f"parts: 1\n{CONTROLLER}"),
    Case("PHO371", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5, watts: 54}")], 41, 22, "watts",
         "'watts' stands here and in 'p.yaml'", parts=KINDS),
    Case("PHO371", [NAMED, ("crest: {dli: [3, 9], ppfd_max", "crest: {like: sps, ppfd_max")], 43, 37,
         "dark_hours_min", "'dark_hours_min' stands here and in 'p.yaml'", parts=KINDS),
    Case("PHO372", [NAMED], 1, 1, "schedule", "this is a schedule, not a file of parts",
         help="begins with `parts: 1`", parts="schedule: 1\ntank: other\nparts: 1\n", **IN_P),
    Case("PHO372", [NAMED], 1, 8, "other.yaml", "a file of parts names no other file of parts",
         help="into one file", parts="parts: other.yaml\n", **IN_P),
    Case("PHO206", [("title: Test bench\n", "title: Test bench\nparts: /etc/p.yaml\n"), (PAIR, "")], 3, 8,
         "/etc/p.yaml", "'/etc/p.yaml' does not have the right form", help="not from the root"),
    Case("PHO201", [("title: Test bench\n", "title: Test bench\npart: p.yaml\n"), (CONTROLLER, "")], 3, 1,
         "part", "unknown key 'part'", help="did you mean 'parts'?"),
    Case("PHO202", [NAMED, (CONTROLLER, "")], 3, 8, "p.yaml",
         "neither the schedule nor 'p.yaml' has 'controller'", parts="parts: 1\n"),
    Case("PHO100", [NAMED, (CONTROLLER, "")], 1, 1, "", "the file holds no parts",
         parts="# none yet\n", **IN_P),
    Case("PHO202", [NAMED, (PAIR, "")], 1, 1, "b", "the file of parts lacks 'parts'",
         parts=SHARED.removeprefix("parts: 1\n"), **IN_P),
    Case("PHO203", [NAMED, (PAIR, "")], 1, 1, "-", "expected a mapping, got a list",
         parts="- pair\n", **IN_P),
    Case("PHO210", [NAMED, (PAIR, "")], 1, 8, "2", "this is version 2 of the language, not 1",
         parts=SHARED.replace("parts: 1", "parts: 2"), **IN_P),
    Case("PHO201", [NAMED, (PAIR, "")], 2, 1, "balasts", "unknown key 'balasts'",
         help="did you mean 'ballasts'?", parts=SHARED.replace("ballasts", "balasts"), **IN_P),
    Case("PHO102", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5}")], 5, 1, "parts",
         "the key 'parts' stands twice here",
         parts="parts: 1\ntube_kinds:\n  t5: {watts: 54}\n  t8: {watts: 36}\nparts: 1\n", **IN_P),
    Case("PHO308", [NAMED, (PAIR, "")], 5, 20, "1.0", "the floor at 1 V is not below full at 0.9 V",
         parts=SHARED.replace("full_volts: 10.0", "full_volts: 0.9"), **IN_P),
    Case("PHO301", [NAMED, (PAIR, ""), ("ballast: pair", "ballast: piar")], 40, 14, "piar",
         "there is no ballast 'piar'", help="did you mean 'pair'?", parts=SHARED),
    Case("PHO301", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t6}")], 41, 18, "t6",
         "there is no tube kind 't6'", help="allowed here: t5", parts=KINDS),
    Case("PHO301", [NAMED, ("crest: {dli: [3, 9],", "crest: {like: lps,")], 43, 17, "lps",
         "there is no zone kind 'lps'", help="sps", parts=KINDS),
    Case("PHO301", [("blue-b: {watts: 54}", "blue-b: {like: t5}")], 40, 18, "t5",
         "there is no tube kind 't5': the schedule names no file of parts", help="`parts: …`"),
    Case("PHO205", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5}")], 3, 15, "0",
         "0 is out of range: more than 0 W", parts=KINDS.replace("watts: 54", "watts: 0"), **IN_P),
    Case("PHO202", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5}")], 3, 3, "t5", "'t5' lacks 'watts'",
         parts=KINDS.replace("watts: 54", "price: 9"), **IN_P),
    Case("PHO319", [NAMED, ("crest: {dli: [3, 9], ppfd_max: 400, dark_hours_min: 8}",
                            "crest: {like: sps, ppfd_max: 400}")], 5, 14, "[9, 3]", "9 is above 3",
         parts=KINDS.replace("[3, 9]", "[9, 3]"), **IN_P),
    Case("PHO327", [NAMED, ("blue-b: {watts: 54}", "blue-b: {like: t5, burn_in_full_hours: 12}")], 41,
         42, "12", "a burn-in of 12 h does not fit into the 10 h",
         parts=KINDS.replace("watts: 54", "watts: 54, replace_after_hours: 10")),
    # What hangs on a fault is left out: one fault, one message
    Case("PHO102", [
            ("  blue-b: {watts: 54}", "  blue-a: {watts: 54}"),
            ("[blue-a, blue-b]", "[blue-a]"),
         ], 40, 3, "blue-a", "the key 'blue-a' stands twice here"),
    Case("PHO115", [("    response: {kind: square-law}", "    response: *law")], 21, 15, "*law",
         "the alias '*law' names nothing above it"),
    Case("PHO107", [("    ballast: bench", "    ballast: !id bench")], 58, 14, "!id bench",
         "unknown tag '!id'"),
    Case("PHO201", [("zones:\n  crest", "zone:\n  crest")], 41, 1, "zone", "unknown key 'zone'",
         help="did you mean 'zones'?"),
    Case("PHO201", [("tubes:\n  blue-a", "tube:\n  blue-a")], 38, 1, "tube", "unknown key 'tube'",
         help="did you mean 'tubes'?"),
    Case("PHO202", [("    ballast: bench\n", "")], 57, 3, "white", "'white' lacks 'ballast'",
         help="The kind of ballast, by its id"),
    Case("PHO203", [
            ("zones:\n  crest: {dli: [3, 9], ppfd_max: 400, dark_hours_min: 8}\n",
             "zones: [crest]\n"),
         ], 41, 8, "[crest]", "expected a mapping, got a list"),
    Case("PHO203", [
            ("tubes:\n  blue-a: {watts: 54, fitted: 2027-03-02}\n  blue-b: {watts: 54}\n",
             "tubes: none\n"),
         ], 38, 8, "none", "expected a mapping, got 'none'"),
    Case("PHO204", [("{kind: square-law}", "{kind: cubic}")], 21, 22, "cubic",
         "'cubic' is not allowed here",
         help="allowed here: linear, square-law, log-law, measured"),
    Case("PHO205", [
            ("blue-a: {watts: 54, fitted: 2027-03-02}", "blue-a: &tube {watts: 0}"),
            ("blue-b: {watts: 54}", "blue-b: *tube"),
         ], 39, 25, "0", "0 is out of range: more than 0 W"),
    Case("PHO202", [
            ("    moonlight: {kind: steady, light_percent: 3, start: 22:00, end: 02:00}",
             "    moonlight: {}"),
         ], 67, 5, "moonlight", "'moonlight' lacks 'kind'"),
    Case("PHO203", [("    kind: two-point\n    bits: 12", "    kind: 12\n    bits: two-point")], 15,
         11, "12", "expected text, got 12"),
    Case("PHO204", [("    kind: two-point\n    bits: 12", "    kind: two-points\n    bits: twelve")],
         15, 11, "two-points", "'two-points' is not allowed here",
         help="did you mean 'two-point'?"),
    Case("PHO204", [
            ("    moonlight: {kind: steady, light_percent: 3, start: 22:00, end: 02:00}",
             "    moonlight: {kind: full, start: 22:00}"),
         ], 67, 23, "full", "'full' is not allowed here", help="allowed here: steady"),
    Case("PHO308", [
            ("floor: {volts: 0.6, light_percent: 2}", "floor: {volts: 9.7, light_percent: 2}"),
         ], 34, 20, "9.7", "the floor at 9.7 V is not below full at 9.5 V"),
    Case("PHO322", [
            ("relay: {kind: column}", "relay: {kind: follows-level, on_level_percent: 20}"),
            ("dark: {kind: standby, below_volts: 0.5}", "dark: {kind: relay}"),
         ], 12, 50, "20", "a relay that closes at 20 %"),
]
# fmt: on


@pytest.mark.parametrize("code", sorted({case.code for case in CASES}))
def test_every_case_of(code):
    for case in CASES:
        if case.code == code:
            with naming(case):
                check_case(case)


def check_case(case):
    outcome = loaded_case(case)
    found = [(d.code, d.source_range.line, d.source_range.column) for d in outcome.report]
    assert found == [(case.code, case.line, case.column)]
    (diagnostic,) = outcome.report
    assert outcome.report.shown(diagnostic.file) == case.file
    span = diagnostic.source_range
    lines = case.parts.split("\n") if case.file == "p.yaml" else outcome.document.lines
    line = lines[span.line - 1]
    end = span.end_column - 1 if span.end_line == span.line else len(line)
    assert line[span.column - 1 : end] == case.marked
    assert case.message in diagnostic.message
    assert case.help in diagnostic.help
    assert diagnostic.message[0].islower() or not diagnostic.message[0].isalpha()
    assert not diagnostic.message.endswith(".")
    assert (outcome.schedule is None) == outcome.report.has_errors
    check_text(case, diagnostic, outcome, lines)


def loaded_case(case):
    """Load a case, with its parts beside it if it has any."""
    if not case.parts:
        return load("test.yaml", case.raw)
    beside = {"p.yaml": case.parts.encode()}
    try:
        loaded = load_with("test.yaml", case.raw, lambda name, most: beside[name], str)
    except ScheduleError as fault:
        return Outcome(fault.document, fault.report)
    return Outcome(loaded.document, loaded.report, loaded)


def check_text(case, diagnostic, outcome, lines):
    """Assert that the report shows the place, the message, the line, and marks right under it."""
    outcome.report.not_guarded = ()  # what no limit stands for has tests of its own
    text = render_text(outcome.report, outcome.document.lines)
    heading = f"{case.file}:{case.line}:{case.column}  {diagnostic.severity} {case.code}"
    assert text.startswith(f"{heading} {CODES[case.code].name}")
    if diagnostic.severity == "note":
        assert text == f"{heading} {CODES[case.code].name}: {diagnostic.message}\n"
        return
    shown = text.splitlines()
    assert shown[1] == f"  {as_shown(diagnostic.message)}"
    if diagnostic.help:
        assert f"  try: {as_shown(diagnostic.help)}" in shown
    line = lines[case.line - 1]
    prefix = f"  {' ' * len(str(case.line))} | "
    marks = re.fullmatch(re.escape(prefix) + "( *)(~+)", shown[3])
    assert marks is not None
    under = shown[2].ljust(marks.end())[marks.start(2) : marks.end()]
    if len(line) <= 100:
        assert shown[2] == f"  {case.line} | {as_shown(line)}".rstrip()
        assert len(marks[1]) == len(as_shown(line[: case.column - 1]))
        assert under == as_shown(case.marked or line[case.column - 1 : case.column] or " ")
    else:  # cut around the marks
        assert under == as_shown(case.marked)[: len(under)]


def test_the_table_covers_every_code():
    wanted = {code for code in CODES if code[3] not in ELSEWHERE}
    assert {code[3] for code in wanted} == set("123")
    assert {case.code for case in CASES} == wanted


def test_the_base_has_no_fault():
    outcome = load("test.yaml", BASE.encode())
    assert list(outcome.report) == []
    assert outcome.schedule is not None
    assert list(outcome.schedule.channels) == ["blue", "white"]
