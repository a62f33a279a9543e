"""A valid schedule from a seed: what it says, its text, its dates, and the files beside it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from tests.drawn.changes import draw_changes
from tests.drawn.days import Days, follows_sky, most_percent
from tests.drawn.dice import LABELS, Dice
from tests.drawn.hardware import Hardware
from tests.drawn.measured import ask, measure
from tests.drawn.parts import share
from tests.drawn.tubes import Tubes
from tests.drawn.yaml_text import yaml_text

#: Places with their zones; noon by the clock is not far from the sun's.
PLACES = (
    (38.1, -29.5, "Atlantic/Azores"),
    (51.5, -0.1, "Europe/London"),
    (69.7, 18.9, "Europe/Oslo"),
    (78.2, 15.6, "Arctic/Longyearbyen"),
    (-18.1, 178.4, "Pacific/Fiji"),
    (1.35, 103.8, "Asia/Singapore"),
    (40.7, -74.0, "America/New_York"),
    (-33.9, 151.2, "Australia/Sydney"),
    (-31.5, 159.1, "Australia/Lord_Howe"),
    (49.3, -123.1, "America/Vancouver"),
    (-43.9, -176.5, "Pacific/Chatham"),
    (27.7, 85.3, "Asia/Kathmandu"),
    (-77.8, 166.7, "Antarctica/McMurdo"),
    (0.0, 0.0, "Etc/UTC"),
)

#: Nearer to a pole there are dates without a sunrise. [°]
POLAR_FROM_DEG = 60.0

#: Dates on which clocks change somewhere, a leap day, the turn of a year.
SPECIAL_DATES = (
    dt.date(2027, 3, 14), dt.date(2027, 3, 28), dt.date(2027, 4, 4), dt.date(2027, 9, 26),
    dt.date(2027, 10, 3), dt.date(2027, 10, 31), dt.date(2027, 11, 7), dt.date(2028, 2, 29),
    dt.date(2027, 12, 31), dt.date(2026, 11, 1),
)  # fmt: skip

#: Hard findings that a schedule can accept.
HARD = (
    "volts-out-of-reach", "ppfd-above-most", "night-not-dark", "more-than-controller-holds",
    "safe-state-too-bright", "limit-not-shown",
)  # fmt: skip


@dataclass(frozen=True)
class Drawn:
    """A schedule that was drawn.

    Parameters
    ----------
    seed : int
        What it was drawn from.
    data : dict
        What the schedule says, by the keys of the language, shared parts included.
    own : dict
        What its own file says of that.
    text : str
        The file.
    dates : (date, date) or None
        First and last date to compile; None without dates.
    files : dict of str to bytes
        Files of readings, by their paths from the folder of the schedule.
    with_ledger : bool
        Whether the dates after these are compiled, too, with a ledger.
    with_calendar : bool
        Whether the calendar of errands is written, too.
    """

    seed: int
    data: dict[str, Any]
    own: dict[str, Any]
    text: str
    dates: tuple[dt.date, dt.date] | None
    files: dict[str, bytes] = field(default_factory=dict)
    with_ledger: bool = False
    with_calendar: bool = False

    @property
    def name(self) -> str:
        """What the file is called."""
        return f"drawn-{self.seed}.yaml"


def draw(seed: int) -> Drawn:
    """Return the schedule of a seed; most are small, so that they are compiled in tens of milliseconds."""
    return _Drawing(seed).drawn()


class _Drawing:
    """One schedule that is being drawn."""

    def __init__(self, seed: int) -> None:
        self.seed, self.dice = seed, Dice(seed)
        dice = self.dice
        self.kind = dice.pick(
            {
                "plain": 75,
                "wide": 1,
                "sky": 8,
                "tubes": 6,
                "changes": 5,
                "readings": 4,
                "asked": 0.15,
            }
        )
        self.files: dict[str, bytes] = {}
        self.has_place = self.kind == "sky" or dice.chance(0.15)
        self.place = dice.pick(PLACES) if self.has_place else None
        self.dates = self._dates()
        self.ids = [f"channel-{n}" for n in range(self._channels())]
        if dice.chance(0.3):
            self.ids = ["blue", "white", "violet", "moon", "uv-a", "n0-1"][: len(self.ids)]
        self.hardware = Hardware(dice, len(self.ids), has_place=self.has_place)
        is_polar = self.place is not None and abs(self.place[0]) > POLAR_FROM_DEG
        by_sky = (0.6 if self.kind == "sky" else 0.2) if self.place and self.dates else 0.0
        self.days = Days(dice, by_sky=0.0 if self.kind == "asked" else by_sky, is_polar=is_polar)
        self.data: dict[str, Any] = {"schedule": 1, "tank": dice.pick(("reef", "tank-2", "x"))}

    def _channels(self) -> int:
        if self.kind == "wide":
            return self.dice.pick({3: 5, 4: 3, 5: 0.5, 6: 0.3})
        if self.kind == "asked":
            return self.dice.pick((1, 2))
        return self.dice.pick({1: 12, 2: 3, 3: 0.3})

    def _dates(self) -> tuple[dt.date, dt.date] | None:
        dice = self.dice
        if self.kind == "plain" and not dice.chance(0.2):
            return None
        first = dice.pick(SPECIAL_DATES) - dt.timedelta(days=dice.pick((0, 0, 1, 2)))
        if dice.chance(0.5):
            first = dt.date(2026, 1, 1) + dt.timedelta(days=dice.randrange(365 * 8))
        if self.kind in ("tubes", "changes"):
            length = dice.pick({1: 4, 2: 5, 3: 2, 4: 0.7, 6: 0.3, 14: 0.04})
        else:
            length = dice.pick({1: 12, 2: 4, 3: 1, 5: 0.2, 30: 0.01})
        return first, first + dt.timedelta(days=length - 1)

    def drawn(self) -> Drawn:
        """Return the finished schedule."""
        dice, data = self.dice, self.data
        if dice.chance(0.6):
            data["title"] = dice.pick(("Teaching reef", *LABELS))
        self._clocks()
        data["controller"], data["ballasts"] = self.hardware.controller, self.hardware.ballasts
        if self.kind == "asked":  # days that move are looked for on a plain grid
            data["controller"]["time_step_minutes"] = 15
        if dice.chance(0.3 if self.kind != "tubes" else 0.5):
            self._costs()
        first = self.dates[0] if self.dates else None
        tubes = Tubes(dice, first, has_costs="costs" in data)
        zones = [f"zone-{n}" for n in range(dice.pick({0: 1, 1: 5, 2: 3, 3: 0.5}))]
        if self.kind in ("readings", "asked") and not zones:
            zones = ["zone-0"]
        data["channels"] = {id: self._channel(id, zones, tubes) for id in self.ids}
        self._use_ballasts()
        if tubes.made:
            data["tubes"] = tubes.made
        self.files |= tubes.files
        self._zones(zones)
        if self.kind == "readings":
            self.files |= measure(dice, data, zones)
        if self.kind == "asked":
            ask(dice, data, zones[0])
        if self.kind == "changes" and self.dates:
            length = (self.dates[1] - self.dates[0]).days + 1
            draw_changes(dice, data, self.days, self.dates[0], length)
        self._hold_light()
        self._accept(zones)
        if dice.chance(0.15):
            data["burn_in"] = dice.pick(("plan", "leave"))
        follows = self._follows_sky()
        if follows and dice.chance(0.4):
            self._dated_tables(follows)
        if follows and dice.chance(0.3):
            self._sky()
        own, more = share(dice, data) if dice.chance(0.06) else (data, {})
        self.files |= more
        return Drawn(
            seed=self.seed,
            data=data,
            own=own,
            text=yaml_text(own, dice),
            dates=self.dates,
            files=self.files,
            with_ledger=self.dates is not None
            and self.kind in ("tubes", "changes")
            and dice.chance(0.25),
            with_calendar=self.dates is not None and dice.chance(0.25),
        )

    def _clocks(self) -> None:
        """Write place and clocks; without a place, or without dates, both clocks are the same."""
        dice, data, controller = self.dice, self.data, self.hardware.controller
        if self.place is None or self.dates is None:
            if controller["clock"] != "standard":
                data["plan_clock"] = controller["clock"]
        elif dice.chance(0.6):
            data["plan_clock"] = dice.pick(("standard", "standard", "civil", "utc"))
            if data["plan_clock"] == "civil" and dice.chance(0.4):
                data["clock_change_minutes_per_day"] = dice.pick((5, 10, 30))
        if self.place is not None:
            latitude, longitude, zone = self.place
            data["place"] = {"latitude": latitude, "longitude": longitude, "time_zone": zone}

    def _costs(self) -> None:
        dice = self.dice
        made: dict[str, Any] = {"currency": dice.pick(("EUR", "USD", "JPY"))}
        kind = dice.pick({"": 1, "flat": 3, "hours": 3})
        if kind == "flat":
            made["tariff"] = {"kind": kind, "per_kwh": dice.pick((0, 0.25, 31.2))}
        elif kind == "hours":
            early, late = dice.randrange(0, 12), dice.randrange(12, 24)
            made["tariff"] = {
                "kind": kind,
                "hours": [
                    {"start": f"{early:02}:00", "end": f"{late:02}:30", "per_kwh": 0.3},
                    {
                        "start": f"{late:02}:30",
                        "end": f"{early:02}:00",
                        "per_kwh": dice.pick((0.1, 0)),
                    },
                ],
            }
            controller = self.hardware.controller["clock"]
            if not self.has_place:
                made["tariff"]["clock"] = controller
            elif dice.chance(0.5):
                made["tariff"]["clock"] = dice.pick(("civil", "standard", "utc"))
        if dice.chance(0.3):
            made["labour"] = (
                {"each_date": 9} if dice.chance(0.5) else {"each_tube": 1.5, "each_date": 20}
            )
        self.data["costs"] = made

    def _channel(self, id: str, zones: list[str], tubes: Tubes) -> dict[str, Any]:
        dice, hardware = self.dice, self.hardware
        ballast = dice.pick(list(hardware.ballasts))
        made: dict[str, Any] = {"ballast": ballast}
        dice.label(made)
        count = dice.pick({1: 6, 2: 2, 5: 0.5})
        if count > 1 or dice.chance(0.6):
            made["ballast_count"] = count
        if dice.chance(0.08):
            own = hardware.converter(near_volts=hardware.full_scale)
            if _reaches(own, hardware.ballasts[ballast]["floor"]["volts"]):
                made["converter"] = own
        if hardware.controller.get("shared_times") and dice.chance(0.3):
            made["weight"] = dice.pick((0.1, 1, 3, 20))
        if dice.chance(0.85 if self.kind == "tubes" else 0.15):
            made["tubes"] = tubes.for_channel(id, hardware.ballasts[ballast], count)
        if zones:
            known = [zone for zone in zones if dice.chance(0.93)] or zones[:1]
            full: dict[str, Any] = {
                "zones": {
                    zone: dice.pick({dice.number(10, 250, 0): 9, 0: 1, dice.number(0, 2): 0.5})
                    for zone in known
                }
            }
            if dice.chance(0.9 if "tubes" in made else 0.2):
                day = (self.dates[0] if self.dates else dt.date(2027, 3, 1)) - dt.timedelta(
                    days=dice.randint(0, 300)
                )
                full = {"measured_on": day.isoformat()} | full
            if dice.chance(0.03):
                full["measured_cold"] = dice.chance(0.7)
            made["full_ppfd"] = full
        if dice.chance(0.04):
            made["spectrum"] = {
                "kind": "led",
                "centre_nm": dice.randint(400, 660),
                "width_nm": dice.randint(10, 60),
            }
        if dice.chance(0.1):
            made["safe_light_percent"] = dice.pick((0, 1, 5, 20))
        return made | (
            self.days.light_of_day()
            if self.kind != "asked"
            else {"day": self.days.ramps(is_simple=True)}
        )

    def _use_ballasts(self) -> None:
        """Leave out ballasts that no channel uses."""
        used = {channel["ballast"] for channel in self.data["channels"].values()}
        self.data["ballasts"] = {id: b for id, b in self.hardware.ballasts.items() if id in used}

    def _zones(self, zones: list[str]) -> None:
        dice, channels = self.dice, self.data["channels"]
        if not zones:
            return
        made = {}
        for zone in zones:
            lit = [c for c in channels.values() if c["full_ppfd"]["zones"].get(zone)]
            if not lit:
                first = channels[self.ids[0]]
                first["full_ppfd"]["zones"][zone] = dice.number(30, 200, 0)
                lit = [first]
            peak = sum(c["full_ppfd"]["zones"][zone] * most_percent(c) / 100 for c in lit)
            made[zone] = self._zone(peak)
        self.data["zones"] = made

    def _zone(self, peak: float) -> dict[str, Any]:
        dice = self.dice
        made: dict[str, Any] = {}
        dice.label(made)
        if dice.chance(0.4):
            dose = peak * 7 * 0.0036
            low = round(dose * dice.uniform(0.3, 1.0), 2)
            made["dli"] = [low, round(low + dose * dice.uniform(0.1, 1.5), 2)]
        if dice.chance(0.45) and peak > 0.01:
            made["ppfd_max"] = max(
                round(
                    peak * dice.pick({dice.uniform(1.0, 1.6): 9, 1.0: 2, dice.uniform(0.6, 1): 1}),
                    1,
                ),
                0.1,
            )
        if dice.chance(0.12):
            made["ek_ppfd"] = dice.pick((50, 120, 200, 400))
        if dice.chance(0.15):
            made["ppfd_rise_per_minute_max"] = dice.pick((1, 5, 20))
        if dice.chance(0.7):
            made["dark_hours_min"] = dice.pick((0, 4, 8, 9, 12))
        for key, values in (
            ("peak_rise_percent_max", (0, 10, 50, 500)),
            ("dose_rise_percent_max", (0, 10, 50)),
            ("day_moves_minutes_max", (0, 15, 120)),
        ):
            if dice.chance(0.08):
                made[key] = dice.pick(values)
        return made

    def _hold_light(self) -> None:
        """Let the light of a channel be held now and then, if something says how its tubes fade."""
        data = self.data
        for channel in data["channels"].values():
            fades = any("depreciation" in data["tubes"][id] for id in channel.get("tubes", ()))
            if (
                fades
                and not follows_sky(channel)
                and self.dice.chance(0.3)
                and "day_plans" not in data
            ):
                channel["hold_light"] = {"dose_within_percent": self.dice.pick((0.5, 3, 10))}

    def _accept(self, zones: list[str]) -> None:
        dice, data = self.dice, self.data
        names: list[str] = []
        if any(b["dark"]["kind"] == "never" for b in data["ballasts"].values()) and dice.chance(
            0.7
        ):
            names.append("night-not-dark")
        if dice.chance(0.12):
            names += [name for name in dice.sample(HARD, dice.randint(1, 3)) if name not in names]
        made = []
        for name in names:
            each: dict[str, Any] = {"finding": name}
            if dice.chance(0.2):
                each["channels"] = dice.sample(self.ids, dice.randint(1, len(self.ids)))
            if dice.chance(0.15) and zones:
                each["zones"] = dice.sample(zones, dice.randint(1, len(zones)))
            each["because"] = dice.pick(
                ("it is accepted for a test", LABELS[1] * 2, "weil es so ist – ja")
            )
            made.append(each)
        if made:
            data["accept"] = made

    def _follows_sky(self) -> set[str]:
        """Return which of sun and moon some channel follows."""
        found = set()
        for channel in self.data["channels"].values():
            if channel.get("moonlight", {}).get("kind", "steady") != "steady":
                found.add("moon")
            elif follows_sky(channel):
                found.add("sun")
        return found

    def _dated_tables(self, follows: set[str]) -> None:
        dice = self.dice
        is_apart = dice.chance(0.3) and not self.data["controller"].get("shared_times")
        asked = {key: self._asked() for key in sorted(follows)} if is_apart else self._asked()
        if asked:
            self.data["dated_tables"] = asked

    def _asked(self) -> dict[str, Any]:
        dice = self.dice
        if dice.chance(0.3):
            return {"tables": dice.pick((1, 2, 4, 30))}
        keys = dice.sample(
            ("light_error_percent", "time_error_minutes", "dose_error_percent"), dice.randint(1, 3)
        )
        return {key: dice.pick((0.5, 2, 10, 20)) for key in keys}

    def _sky(self) -> None:
        dice = self.dice
        made: dict[str, Any] = {}
        if dice.chance(0.8):
            made["latitude"] = dice.pick((-18.5, 10, 45, 24.0))
        if dice.chance(0.6):
            made["longitude"] = dice.pick((-152, 30, 120.5))
        if dice.chance(0.8):
            made["noon_at"] = dice.pick(("13:00", "15:30", "12:00"))
        if dice.chance(0.5):
            made["seasons_percent"] = dice.pick((0, 30, 50, 100))
        if made:
            self.data["sky"] = made


def _reaches(converter: dict[str, Any], floor_volts: float) -> bool:
    """Return whether an output that was measured begins below a floor."""
    low, high = converter["points"][0], converter["points"][1]
    slope = (high["volts"] - low["volts"]) / (high["code"] - low["code"])
    return low["volts"] - slope * low["code"] < min(floor_volts, 0.2)
