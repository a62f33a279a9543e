"""The text of a first schedule, from answers about the hardware. Nothing about it is guessed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that only the keeper can know.

    ``name`` is the option without dashes; ``choices`` is empty for numbers, times and text.
    """

    name: str
    kind: type
    text: str
    choices: tuple[str, ...] = ()


#: In the order in which they are asked.
QUESTIONS: tuple[Question, ...] = (
    Question("title", str, "What is this schedule for"),
    Question("rows", int, "How many rows does the controller hold for one channel"),
    Question("between", str, "How does the level go from row to row", ("line", "hold")),
    Question("after_last_row", str,
             "After the last row of the day: on across midnight (wrap), or stay until midnight (hold)",
             ("wrap", "hold")),
    Question("relay", str, "Does each row hold a relay state for the mains of the ballasts (column),"
             " or does the controller switch no mains (none)", ("column", "none")),
    Question("clock", str, "What does the controller's clock show", ("standard", "civil", "utc")),
    Question("bits", int, "How many bits has the converter"),
    Question("full_scale_volts", float, "Volts at the port for the converter's full scale"),
    Question("response", str, "How does the light follow the volts (data sheet, or measure it)",
             ("linear", "square-law", "log-law")),
    Question("floor_volts", float, "Volts at and below which the ballast holds its least light"),
    Question("floor_light_percent", float, "That least light, in % of full"),
    Question("full_volts", float, "Volts at and above which it gives full light"),
    Question("dark", str, "What makes the ballast dark", ("relay", "standby", "never")),
    Question("channel", str, "A short id for the first channel, such as blue"),
    Question("tubes", int, "How many tubes burn on it (0 for LED strips)"),
    Question("tube_watts", float, "Nominal watts of one tube"),
    Question("dawn", str, "First light, HH:MM"),
    Question("dusk", str, "Last light, HH:MM"),
    Question("ramp_minutes", int, "Minutes for dawn and for dusk"),
    Question("peak_light_percent", float, "Light at the peak, in % of full"),
)  # fmt: skip

#: Asked after the others, for ballasts that go dark by themselves.
STANDBY = Question("standby_volts", float, "Volts below which the ballast is dark by itself")


def starter_text(answers: dict[str, object], schema: str) -> str:
    """Return a schedule as text, from an answer to every question and the schema's place."""
    a = answers
    dark = f"{{kind: {a['dark']}}}"
    if a["dark"] == "standby":
        dark = f"{{kind: standby, below_volts: {a['standby_volts']}}}"
    count = int(str(a["tubes"]))
    names = [f"{a['channel']}-{n + 1}" for n in range(count)]
    tubes = "".join(f"  {name}: {{watts: {a['tube_watts']}}}\n" for name in names)
    tube_block = ""
    if names:
        tube_block = (
            "# For new tubes add `fitted: YYYY-MM-DDTHH:MM` and `burn_in_full_hours: 12`.\n"
            f"tubes:\n{tubes}\n"
        )
    accept = ""
    if a["dark"] == "never":
        accept = (
            "accept:\n"
            "  - finding: night-not-dark\n"
            f"    channels: [{a['channel']}]\n"
            "    because: this ballast can't be made dark yet\n\n"
        )
    title = str(a["title"]).replace("\\", "\\\\").replace('"', '\\"')
    return f"""\
# yaml-language-server: $schema={schema}
# The line above lets an editor complete and explain this file.
# Mains voltage beside salt water can kill. Local electrical codes decide how this is wired.
schedule: 1
title: "{title}"
plan_clock: {a["clock"]}

controller:
  clock: {a["clock"]}
  setpoints_per_channel: {a["rows"]}
  time_step_minutes: 1
  between: {a["between"]}
  after_last_row: {a["after_last_row"]}
  relay: {{kind: {a["relay"]}}}
  emits: {{unit: percent, step: 1, every_seconds: 1, rounding: half-up}}
  converter: {{kind: nominal, bits: {a["bits"]}, full_scale_volts: {a["full_scale_volts"]}}}

ballasts:
  ballast:
    response: {{kind: {a["response"]}}}
    floor: {{volts: {a["floor_volts"]}, light_percent: {a["floor_light_percent"]}}}
    full_volts: {a["full_volts"]}
    dark: {dark}
    below_floor: nearest

{tube_block}\
# Measure PPFD in the tank with this channel alone at full, then take out the #:
# zones:
#   tank: {{dli: [8, 12], ppfd_max: 300, dark_hours_min: 8}}

{accept}\
channels:
  {a["channel"]}:
    ballast: ballast
    tubes: [{", ".join(names)}]
#   full_ppfd: {{zones: {{tank: 150}}}}
    day:
      kind: ramps
      dawn: {{start: "{a["dawn"]}", minutes: {a["ramp_minutes"]}, shape: sine}}
      peaks: [{{light_percent: {a["peak_light_percent"]}}}]
      dusk: {{end: "{a["dusk"]}", minutes: {a["ramp_minutes"]}, shape: sine}}
"""
