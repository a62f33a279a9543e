"""What the answers to the questions say of each other: which one is moot, which can't stand beside another.

A rule that makes a question meaningless takes the answers and what the question is about. An objection
takes the answer too, and returns why it can't stand, or an empty text.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from photoperiod.schedule import answer_forms as forms
from photoperiod.schedule.answer_forms import LATER, Value

#: Whose answer it is: the name of the question, and the ballast, channel, zone or ``channel/zone`` that it
#: is about; empty if it is about the whole file.
Key = tuple[str, str]
Answers = Mapping[Key, Value]


def names(answers: Answers, name: str) -> tuple[str, ...]:
    """Return the ballasts, channels or zones that an answer names; none if they are left for later."""
    value = answers.get((name, ""), ())
    return tuple(str(each) for each in value) if isinstance(value, tuple) else ()


def readings(answers: Answers) -> tuple[str, ...]:
    """Return each channel with each zone, as ``channel/zone``."""
    channels, zones = names(answers, "channels"), names(answers, "zones")
    return tuple(f"{channel}/{zone}" for channel in channels for zone in zones)


def ballast_of(answers: Answers, channel: str) -> str:
    """Return the ballast of a channel; if there is one only, no answer names it."""
    only = names(answers, "ballasts")
    return only[0] if len(only) == 1 else str(answers.get(("ballast", channel), ""))


def tube_count(answers: Answers, channel: str) -> int:
    """Return how many tubes a channel has."""
    value = answers.get(("tubes", channel), ())
    return int(value[0]) if isinstance(value, tuple) and value else 0


def tube_watts(answers: Answers, channel: str) -> Value:
    """Return the watts of a tube of a channel, whichever question they answered. [W]"""
    value = answers.get(("tubes", channel), ())
    if isinstance(value, tuple) and len(value) == 2:
        return value[1]
    return answers.get(("tube_watts", channel), 0)


def _number(answers: Answers, name: str, subject: str = "") -> float | None:
    value = answers.get((name, subject))
    return float(value) if isinstance(value, int | float) else None


def is_not(name: str, *values: str) -> Callable[[Answers, str], bool]:
    """Return what tells whether an answer about the same subject is none of some words."""
    return lambda answers, subject: answers.get((name, subject)) not in values


def has_no_place(answers: Answers) -> bool:
    """Return whether no place is known, and so no sky."""
    return answers.get(("place", ""), "none") == "none"


def clocks_are_one(answers: Answers, _: str) -> bool:
    """Return whether the keeper's times can only mean the controller's own clock."""
    return has_no_place(answers) or answers.get(("clock", "")) == "standard"


def like_the_channel_before(name: str) -> Callable[[Answers, str], Value | None]:
    """Return a default: the answer that the nearest channel before this one has, if any."""

    def default(answers: Answers, subject: str) -> Value | None:
        channels = names(answers, "channels")
        before = channels[: channels.index(subject)] if subject in channels else ()
        said = (answers.get((name, channel)) for channel in reversed(before))
        return next((value for value in said if value is not None), None)

    return default


def is_one_of(those: str) -> Callable[[Answers, str, Value], str]:
    """Return an objection to a name that nothing has."""

    def objection(answers: Answers, _: str, value: Value) -> str:
        known = names(answers, those)
        return "" if value in known else f"there is no '{value}' among {', '.join(known)}"

    return objection


def full_above_floor(answers: Answers, subject: str, value: Value) -> str:
    """Refuse full volts that are not above the floor volts."""
    floor = _number(answers, "floor_volts", subject)
    if floor is not None and isinstance(value, float) and value <= floor:
        return f"full light needs more volts than the floor, which has {floor:g} V"
    return ""


def standby_below_floor(answers: Answers, subject: str, value: Value) -> str:
    """Refuse standby volts above the floor volts."""
    floor = _number(answers, "floor_volts", subject)
    if floor is not None and isinstance(value, float) and value > floor:
        return f"a ballast goes into standby below its floor volts, which are {floor:g} V"
    return ""


def floor_within_port(answers: Answers, _: str, value: Value) -> str:
    """Refuse floor volts that the port does not reach."""
    top = _number(answers, "full_scale_volts")
    if top is not None and isinstance(value, float) and value >= top:
        return f"the port reaches {top:g} V at the most"
    return ""


def dark_has_a_relay(answers: Answers, _: str, value: Value) -> str:
    """Refuse darkness by a relay where the controller has none."""
    if value == "relay" and answers.get(("relay", "")) == "none":
        return "you said that the controller switches no mains; `back relay` changes that"
    return ""


def level_step_divides(_: Answers, __: str, value: Value) -> str:
    """Refuse a step of level that does not divide 10 V, or that is no whole number of codes."""
    unit, step = value if isinstance(value, tuple) else ("", 1)
    whole = {"percent": 100, "millivolts": 10_000}.get(str(unit))
    counts = whole / Fraction(str(step)) if whole else Fraction(str(step))
    return "" if counts.denominator == 1 else "the step must divide 10 V, or be whole codes"


def time_step_divides(_: Answers, __: str, value: Value) -> str:
    """Refuse a time step that is not of whole seconds, or does not divide 24 hours."""
    seconds = float(value) * 60 if isinstance(value, int | float) else 60
    whole = abs(seconds - round(seconds)) < 1e-3 and round(seconds) > 0
    return "" if whole and 86_400 % round(seconds) == 0 else "the step must divide 24 hours"


def _event_needs_place(answers: Answers, value: Value) -> str:
    if forms.is_clock(value) or not has_no_place(answers):
        return ""
    return "the sky needs to know where the tank stands; `back place` says it"


def needs_place(answers: Answers, _: str, value: Value) -> str:
    """Refuse an event of the sky without a place."""
    return _event_needs_place(answers, value)


def dusk_after_dawn(answers: Answers, subject: str, value: Value) -> str:
    """Refuse a dusk that is not after dawn, or more than 24 hours later."""
    dawn, dusk = answers.get(("dawn", subject)), value
    if not (forms.is_clock(dawn) and forms.is_clock(dusk)):
        return _event_needs_place(answers, value)
    hours = (forms.minutes_of(str(dusk)) - forms.minutes_of(str(dawn))) / 60
    if hours <= 0:
        return (
            f"that is not after dawn at {dawn}; if the light goes on past midnight, write"
            f" {dusk}{forms.NEXT_DAY}"
        )
    return f"from dawn at {dawn} that is more than 24 hours" if hours > 24 else ""


def ramps_fit(answers: Answers, subject: str, value: Value) -> str:
    """Refuse ramps that are together longer than the day."""
    dawn, dusk = answers.get(("dawn", subject)), answers.get(("dusk", subject))
    if not (forms.is_clock(dawn) and forms.is_clock(dusk) and isinstance(value, int | float)):
        return ""
    between = forms.minutes_of(str(dusk)) - forms.minutes_of(str(dawn))
    if 2 * value > between:
        return f"from {dawn} to {dusk} there is room for two ramps of {between / 2:g} minutes"
    return ""


def moon_needs_place(answers: Answers, _: str, value: Value) -> str:
    """Refuse a moon that follows the sky without a place."""
    return "" if value == "steady" else _event_needs_place(answers, "")


def moon_ends_after_start(answers: Answers, subject: str, value: Value) -> str:
    """Refuse moonlight that ends when it begins, or by the sky without a place."""
    if value == answers.get(("moon_start", subject)):
        return "that is when it begins"
    return _event_needs_place(answers, value)


def measured_after_fitting(answers: Answers, _: str, value: Value) -> str:
    """Refuse a reading that is older than the tubes: it was of others."""
    for channel in names(answers, "channels"):
        fitted = answers.get(("fitted", channel), LATER)
        if LATER not in (fitted, value) and str(value) < str(fitted)[:10]:
            return f"the tubes of '{channel}' were fitted later, on {fitted}: measure again, or answer later"
    return ""


def has_no_zones(answers: Answers, _: str) -> bool:
    """Return whether zones are left for later."""
    return not names(answers, "zones")


def has_readings_file(answers: Answers, _: str) -> bool:
    """Return whether a file tells the light of the zones."""
    return answers.get(("readings_file", ""), "none") != "none"


def no_reading(answers: Answers, _: str) -> bool:
    """Return whether every reading is left for later."""
    asked = readings(answers)
    return all(answers.get(("full_ppfd", each), LATER) == LATER for each in asked)


def gives_no_day(answers: Answers, subject: str) -> bool:
    """Return whether a channel is for the moon only."""
    return answers.get(("gives", subject)) == "moon"


def gives_no_moon(answers: Answers, subject: str) -> bool:
    """Return whether a channel is for the day only."""
    return answers.get(("gives", subject)) == "day"


def has_no_tubes(answers: Answers, subject: str) -> bool:
    """Return whether a channel has no tubes, as one of LEDs."""
    return tube_count(answers, subject) == 0


def later_if_nothing_is_owed(answers: Answers, subject: str) -> Value | None:
    """Return a default for when tubes are fitted: only those that owe burn-in must have it told."""
    return None if answers.get(("burn_in_hours", subject)) else LATER


def night_can_be_dark(answers: Answers, subject: str) -> bool:
    """Return whether the ballast of a channel can be dark."""
    ballast = ballast_of(answers, subject)
    return bool(ballast) and answers.get(("dark", ballast)) in ("relay", "standby")


def can_not_burn_in(answers: Answers, subject: str) -> bool:
    """Return whether nothing can burn in: there are no tubes, or they are never dark."""
    never = answers.get(("dark", ballast_of(answers, subject))) == "never"
    return has_no_tubes(answers, subject) or never
