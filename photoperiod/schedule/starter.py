"""The text of a first schedule, from answers about the hardware. Nothing about it is guessed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that only the keeper can know.

    ``name`` is the option without dashes; ``choices`` is empty for numbers, times and text, which
    are bounded by ``least`` and ``most`` or must match ``pattern``.
    """

    name: str
    kind: type
    text: str
    choices: tuple[str, ...] = ()
    least: float | None = None
    most: float | None = None
    pattern: str = ""


_CLOCK = r"([01]?[0-9]|2[0-3]):[0-5][0-9]"

#: In the order in which they are asked.
QUESTIONS: tuple[Question, ...] = (
    Question("tank", str, "A short id of the tank, such as teaching-reef: small letters, digits and hyphens",
             pattern=r"[a-z][a-z0-9-]{0,39}"),
    Question("title", str, "What is this schedule for", pattern=r".{1,200}"),
    Question("rows", int, "How many rows does the controller hold for one channel", (), 1, 1440),
    Question("time_step_minutes", float, "How many minutes apart can rows be", (), 0.1, 720),
    Question("level_step_percent", float, "What is its smallest step of level, in % of 10 V", (), 0.01, 100),
    Question("between", str, "How does the level go from row to row", ("line", "hold")),
    Question("after_last_row", str,
             "After the last row of the day: on across midnight (wrap), or stay until midnight (hold)",
             ("wrap", "hold")),
    Question("relay", str, "Does each row hold a relay state for the mains of the ballasts (column),"
             " or does the controller switch no mains (none)", ("column", "none")),
    Question("clock", str, "What does the controller's clock show", ("standard", "civil", "utc")),
    Question("bits", int, "How many bits has the converter", (), 6, 16),
    Question("full_scale_volts", float, "Volts at the port for the converter's full scale", (), 0.1, 24),
    Question("response", str, "How does the light follow the volts (data sheet, or measure it later)",
             ("linear", "square-law", "log-law")),
    Question("floor_volts", float, "Volts at and below which the ballast holds its least light", (), 0, 10),
    Question("floor_light_percent", float, "That least light, in % of full", (), 0.001, 99),
    Question("full_volts", float, "Volts at and above which it gives full light", (), 0.1, 10),
    Question("dark", str, "What makes the ballast dark", ("relay", "standby", "never")),
    Question("standby_volts", float, "Volts below which the ballast is dark by itself", (), 0.01, 10),
    Question("channels", str, "Short ids of the channels, such as blue, white",
             pattern=r"[a-z][a-z0-9-]{0,30}( *, *[a-z][a-z0-9-]{0,30})*"),
    Question("tubes", int, "How many tubes burn on each channel (0 for LED strips)", (), 0, 16),
    Question("tube_watts", float, "Nominal watts of one tube", (), 1, 500),
    Question("dawn", str, "First light, HH:MM", pattern=_CLOCK),
    Question("dusk", str, "Last light, HH:MM", pattern=_CLOCK),
    Question("ramp_minutes", int, "Minutes for dawn and for dusk", (), 0, 720),
    Question("peak_light_percent", float, "Light at the peak, in % of full", (), 0, 100),
)  # fmt: skip


def is_moot(name: str, answers: Mapping[str, object]) -> bool:
    """Return True for questions that an earlier answer makes meaningless."""
    if name == "standby_volts":
        return answers["dark"] != "standby"
    return name == "tube_watts" and answers["tubes"] == 0


def starter_text(answers: Mapping[str, object], schema: str) -> str:
    """Return a schedule as text, from an answer to every question and the schema's place."""
    a = answers
    dark = f"{{kind: {a['dark']}}}"
    if a["dark"] == "standby":
        dark = f"{{kind: standby, below_volts: {a['standby_volts']}}}"
    channels = [name.strip() for name in str(a["channels"]).split(",")]
    count = int(str(a["tubes"]))
    tubes = "".join(
        f"  {channel}-{n + 1}: {{watts: {a['tube_watts']}}}\n"
        for channel in channels
        for n in range(count)
    )
    tube_block = ""
    if tubes:
        tube_block = (
            "# For new tubes add `fitted: YYYY-MM-DDTHH:MM` and `burn_in_full_hours: 12`.\n"
            f"tubes:\n{tubes}\n"
        )
    title = str(a["title"]).replace("\\", "\\\\").replace('"', '\\"')
    return f"""\
# yaml-language-server: $schema={schema}
# The line above lets an editor complete and explain this file.
# Mains voltage beside salt water can kill. Local electrical codes decide how this is wired.
schedule: 1
# The ledger of the tubes is kept by this id: let it stay as it is.
tank: {a["tank"]}
title: "{title}"
plan_clock: {a["clock"]}

controller:
  clock: {a["clock"]}
  setpoints_per_channel: {a["rows"]}
  time_step_minutes: {a["time_step_minutes"]}
  between: {a["between"]}
  after_last_row: {a["after_last_row"]}
  relay: {{kind: {a["relay"]}}}
  # Find out how it rounds between rows, and add `rounding: half-up`, `down` or `toward-last-row`.
  emits: {{unit: percent, step: {a["level_step_percent"]}}}
  converter: {{kind: nominal, bits: {a["bits"]}, full_scale_volts: {a["full_scale_volts"]}}}

ballasts:
  ballast:
    response: {{kind: {a["response"]}}}
    floor: {{volts: {a["floor_volts"]}, light_percent: {a["floor_light_percent"]}}}
    full_volts: {a["full_volts"]}
    dark: {dark}

{tube_block}\
# Measure PPFD in the tank with each channel alone at full, then take out the #:
# zones:
#   tank: {{dli: [8, 12], ppfd_max: 300}}

channels:
""" + "\n".join(_channel(a, channel, count) for channel in channels)


def _channel(a: Mapping[str, object], channel: str, count: int) -> str:
    names = ", ".join(f"{channel}-{n + 1}" for n in range(count))
    return f"""\
  {channel}:
    ballast: ballast
    tubes: [{names}]
#   ballast_count: 2     # how many ballasts are on this output; without it 1
#   full_ppfd: {{zones: {{tank: 150}}}}
    day:
      kind: ramps
      dawn: {{start: "{a["dawn"]}", minutes: {a["ramp_minutes"]}}}
      peaks: [{{light_percent: {a["peak_light_percent"]}}}]
      dusk: {{end: "{a["dusk"]}", minutes: {a["ramp_minutes"]}}}
"""
