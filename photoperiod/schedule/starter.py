"""The text of a first schedule, from the answers of its keeper. Nothing about hardware is guessed."""

from __future__ import annotations

import json
from collections.abc import Iterator

from photoperiod.schedule.answer_forms import LATER, NEXT_DAY, Value
from photoperiod.schedule.answer_rules import (
    Answers,
    ballast_of,
    has_no_place,
    has_readings_file,
    names,
    tube_count,
    tube_watts,
)
from photoperiod.text import plain_number


def starter_text(answers: Answers, schema: str) -> str:
    """Return a schedule as text, from an answer to every question and the place of the schema."""
    parts = [
        _head(answers, schema),
        _controller(answers),
        _section("ballasts", (_ballast(answers, id) for id in names(answers, "ballasts"))),
        _tubes(answers),
        _zones(answers),
        _acceptances(answers),
        _section("channels", (_channel(answers, id) for id in names(answers, "channels"))),
    ]
    return "\n".join(part for part in parts if part)


def left_open(answers: Answers) -> tuple[str, ...]:
    """Return what was left for later, and what that means, each as one sentence."""
    if not names(answers, "zones"):
        return ("Zones are left for later: until then no limit guards the animals.",)
    said = []
    for zone in names(answers, "zones"):
        for name, what in (("ppfd_max", "the most light"), ("dli", "the dose")):
            if _of(answers, name, zone) == LATER:
                said.append(
                    f"Zone {zone}: {what} ({name}) is left for later, so nothing guards it."
                )
        unknown = [
            channel
            for channel in names(answers, "channels")
            if answers.get(("full_ppfd", f"{channel}/{zone}")) == LATER
        ]
        if unknown:
            said.append(
                f"Zone {zone}: PPFD of {', '.join(unknown)} is left for later, so its dose is not known."
            )
    return tuple(said)


def _of(answers: Answers, name: str, subject: str = "") -> Value:
    """Return an answer that must be there."""
    return answers[name, subject]


def _yaml(value: Value) -> str:
    """Return a number or a plain word as YAML."""
    return plain_number(value) if isinstance(value, float) else str(value)


def _quoted(value: Value) -> str:
    """Return any text as YAML: a JSON string is one, too."""
    return json.dumps(str(value), ensure_ascii=False)


def _section(name: str, entries: Iterator[str]) -> str:
    return f"{name}:\n" + "".join(entries)


def _head(answers: Answers, schema: str) -> str:
    title, place = _of(answers, "title"), _of(answers, "place")
    lines = [
        f"# yaml-language-server: $schema={schema}",
        "# The line above lets an editor complete and explain this file.",
        "# Mains voltage beside salt water can kill. Local electrical codes decide how this is wired.",
        "# Unplug before relamping.",
        "schedule: 1",
        "# The hours of its tubes are kept by this name: let it stay as it is.",
        f"tank: {_of(answers, 'tank')}",
    ]
    if title != "none":
        lines.append(f"title: {_quoted(title)}")
    if isinstance(place, tuple):
        north, east = (_yaml(degrees) for degrees in place)
        zone = _of(answers, "time_zone")
        lines.append(f"place: {{latitude: {north}, longitude: {east}, time_zone: {zone}}}")
    lines.append(f"plan_clock: {plan_clock(answers)}     # what the times in this file mean")
    return "\n".join(lines) + "\n"


def plan_clock(answers: Answers) -> Value:
    """Return the clock of the plan: without a place it can only be that of the controller."""
    clock = _of(answers, "clock")
    return clock if has_no_place(answers) else answers.get(("plan_clock", ""), clock)


def _controller(answers: Answers) -> str:
    relay = f"kind: {_of(answers, 'relay')}"
    if _of(answers, "relay") == "follows-level":
        relay += f", on_level_percent: {_yaml(_of(answers, 'on_level_percent'))}"
    unit, step = _of(answers, "level_step")  # type: ignore[misc, str-unpack]
    bits, volts = _of(answers, "bits"), _yaml(_of(answers, "full_scale_volts"))
    return f"""\
controller:
  clock: {_of(answers, "clock")}
  setpoints_per_channel: {_of(answers, "rows")}
  # tables: 1              # how many dated tables it holds at once
  time_step_minutes: {_yaml(_of(answers, "time_step_minutes"))}
  between: {_of(answers, "between")}
  after_last_row: {_of(answers, "after_last_row")}
  relay: {{{relay}}}
  # Find out how it rounds between rows, and add `rounding: half-up`, `down` or `toward-last-row`.
  emits: {{unit: {unit}, step: {step}}}
  converter: {{kind: nominal, bits: {bits}, full_scale_volts: {volts}}}
  # port: {{sink_milliamps: 20}}     # the current that one output can take up from its ballasts
"""


def _ballast(answers: Answers, id: str) -> str:
    dark = f"kind: {_of(answers, 'dark', id)}"
    if _of(answers, "dark", id) == "standby":
        dark += f", below_volts: {_yaml(_of(answers, 'standby_volts', id))}"
        if _of(answers, "relay") != "none":
            dark += (
                f", keeps_mains: {'true' if _of(answers, 'keeps_mains', id) == 'yes' else 'false'}"
            )
    volts, light = (_yaml(_of(answers, f"floor_{what}", id)) for what in ("volts", "light_percent"))
    response = f"kind: {_of(answers, 'response', id)}"
    if _of(answers, "response", id) == "swept":
        response += f", readings: {_quoted(_of(answers, 'sweep_file', id))}"
    return f"""\
  {id}:
    response: {{{response}}}
    floor: {{volts: {volts}, light_percent: {light}}}
    full_volts: {_yaml(_of(answers, "full_volts", id))}
    dark: {{{dark}}}
    # watts: {{full: , floor: }}     # fill in those of one, from its data sheet: for the energy of a day
"""


def _tube_ids(answers: Answers, channel: str) -> list[str]:
    return [f"{channel}-{number + 1}" for number in range(tube_count(answers, channel))]


def _tubes(answers: Answers) -> str:
    lines = []
    for channel in names(answers, "channels"):
        keys = f"watts: {_yaml(tube_watts(answers, channel))}"
        fitted = answers.get(("fitted", channel), LATER)
        owed = answers.get(("burn_in_hours", channel), 0)
        keys += f", fitted: {fitted}" if fitted != LATER else ""
        keys += f", burn_in_full_hours: {_yaml(owed)}" if owed else ""
        lines += [f"  {id}: {{{keys}}}\n" for id in _tube_ids(answers, channel)]
    if not lines:
        return ""
    return (
        "# A tube without `fitted` or `lit_hours` counts as new. Where yours have burned, write how long,\n"
        "# such as `lit_hours: 2000`; else their hours, their light and when they are due are too good.\n"
        "# When you fit new tubes, add `fitted: 2027-03-02T08:00` and `burn_in_full_hours: 12`.\n"
        + _section("tubes", iter(lines))
    )


def _readings(answers: Answers, channel: str) -> dict[str, Value]:
    """Return the PPFD of a channel by zone, as far as it was measured and typed."""
    if has_readings_file(answers, ""):
        return {}
    found = {
        zone: _of(answers, "full_ppfd", f"{channel}/{zone}") for zone in names(answers, "zones")
    }
    return {zone: value for zone, value in found.items() if value != LATER}


def _unlit(answers: Answers) -> set[str]:
    """Return the zones that no channel is known to light: the language refuses such a zone.

    A file of readings is looked at when the schedule is checked.
    """
    if has_readings_file(answers, ""):
        return set()
    lit = {
        zone
        for channel in names(answers, "channels")
        for zone, value in _readings(answers, channel).items()
        if value
    }
    return set(names(answers, "zones")) - lit


def _zones(answers: Answers) -> str:
    zones, unlit = names(answers, "zones"), _unlit(answers)
    if not zones:
        return (
            "# Measure PPFD in the tank with each channel alone at full, then take out the #:\n"
            "# zones:\n"
            "#   crest: {dli: [8, 12], ppfd_max: 300}\n"
        )
    text = "zones:\n" if len(unlit) < len(zones) else "# zones:\n"
    if unlit:
        text = (
            "# Zones without a reading stand behind a #. Measure PPFD there with each channel alone at\n"
            f"# full, write it under full_ppfd of the channels, and take out the #.\n{text}"
        )
    for zone in zones:
        limits = []
        dli, most = _of(answers, "dli", zone), _of(answers, "ppfd_max", zone)
        if isinstance(dli, tuple):
            limits.append(f"dli: [{_yaml(dli[0])}, {_yaml(dli[1])}]")
        if most != LATER:
            limits.append(f"ppfd_max: {_yaml(most)}")
        text += f"{'# ' if zone in unlit else '  '}{zone}: {{{', '.join(limits)}}}\n"
    return text


def _acceptances(answers: Answers) -> str:
    never = [
        channel
        for channel in names(answers, "channels")
        if _of(answers, "dark", ballast_of(answers, channel)) == "never"
    ]
    if not never:
        return ""
    return _section(
        "accept",
        (
            f"  - finding: night-not-dark\n    channels: [{channel}]\n"
            f"    because: {_quoted(_of(answers, 'lit_night_because', channel))}\n"
            for channel in never
        ),
    )


def _channel(answers: Answers, id: str) -> str:
    text = f"  {id}:\n    ballast: {ballast_of(answers, id)}\n"
    text += f"    ballast_count: {_of(answers, 'ballast_count', id)}\n"
    if tube_count(answers, id):
        text += f"    tubes: [{', '.join(_tube_ids(answers, id))}]\n"
    text += _full_ppfd(answers, id)
    gives = _of(answers, "gives", id)
    return (
        text
        + (_day(answers, id) if gives != "moon" else "")
        + (_moonlight(answers, id) if gives != "day" else "")
    )


def _full_ppfd(answers: Answers, channel: str) -> str:
    if has_readings_file(answers, ""):
        return f"    full_ppfd: {{readings: {_quoted(_of(answers, 'readings_file'))}}}\n"
    unlit = _unlit(answers)
    readings = {
        zone: value for zone, value in _readings(answers, channel).items() if zone not in unlit
    }
    if not readings:
        return "    # full_ppfd: {zones: {crest: 130}}     # this channel alone, at full, warm\n"
    date = answers.get(("measured_on", ""), LATER)
    when = f"measured_on: {date}, " if date != LATER else ""
    zones = ", ".join(f"{zone}: {_yaml(value)}" for zone, value in readings.items())
    return f"    full_ppfd: {{{when}zones: {{{zones}}}}}\n"


def _day(answers: Answers, id: str) -> str:
    dawn, dusk = (str(_of(answers, name, id)) for name in ("dawn", "dusk"))
    minutes = _yaml(_of(answers, "ramp_minutes", id))
    next_day = "      ends_next_day: true\n" if dusk.endswith(NEXT_DAY) else ""
    return f"""\
    day:
      kind: ramps
{next_day}\
      dawn: {{start: {dawn}, minutes: {minutes}}}
      peaks: [{{light_percent: {_yaml(_of(answers, "peak_light_percent", id))}}}]
      dusk: {{end: {dusk.removesuffix(NEXT_DAY)}, minutes: {minutes}}}
"""


def _moonlight(answers: Answers, id: str) -> str:
    kind = _of(answers, "moonlight", id)
    key = "light_percent" if kind == "steady" else "full_light_percent"
    light = _yaml(_of(answers, "moon_light_percent", id))
    start, end = (_of(answers, name, id) for name in ("moon_start", "moon_end"))
    return f"    moonlight: {{kind: {kind}, {key}: {light}, start: {start}, end: {end}}}\n"
