"""Draws of days and moonlight: by the clock and by the sky."""

from __future__ import annotations

from typing import Any

from tests.drawn.dice import SHAPES, Dice, clock_text

DAY_S = 86_400


class Days:
    """Draws the light of channels.

    Parameters
    ----------
    dice : Dice
        Where chance comes from.
    by_sky : float
        The share of days and nights that follow the sky; 0 without a place.
    is_polar : bool
        Whether there are dates without a sunrise: most events then say what counts instead.
    """

    def __init__(self, dice: Dice, *, by_sky: float = 0.0, is_polar: bool = False) -> None:
        self.dice, self.by_sky, self.is_polar = dice, by_sky, is_polar
        self.grid_s = dice.pick({1800: 4, 900: 6, 300: 2, 60: 1, 1: 0.2})

    def light_of_day(self) -> dict[str, Any]:
        """Return day, moonlight or both."""
        which = self.dice.pick({"day": 14, "moonlight": 1.5, "both": 2})
        made: dict[str, Any] = {}
        if which != "moonlight":
            made["day"] = self.day()
        if which != "day":
            made["moonlight"] = self.moonlight()
        return made

    def day(self) -> dict[str, Any]:
        """Return a day."""
        dice = self.dice
        if dice.chance(self.by_sky):
            return self._sun() if dice.chance(0.4) else self._ramps_by_sky()
        return self.ramps() if dice.chance(0.75) else self._points()

    def _sun(self) -> dict[str, Any]:
        dice = self.dice
        made: dict[str, Any] = {"kind": "sun", "peak_light_percent": self._light(is_peak=True)}
        if dice.chance(0.5):
            made["peak_of"] = dice.pick(("year", "day"))
        if dice.chance(0.6):
            made["model"] = dice.pick(("sine", "clear-sky"))
        return made

    def _light(self, *, is_peak: bool = False) -> float:
        dice = self.dice
        if is_peak:
            return dice.pick({dice.number(20, 95, 0): 10, 100: 1, dice.number(2, 20): 1, 0: 0.1})
        return dice.pick({dice.number(0, 100, 0): 6, 0: 2, 100: 1, dice.number(0, 5): 1})

    def ramps(self, *, is_simple: bool = False) -> dict[str, Any]:
        """Return a day of ramps by the clock, with one hump or more."""
        dice, grid = self.dice, self.grid_s
        length = dice.randrange(max(grid, 7200 // grid * grid), 16 * 3600, grid)
        if dice.chance(0.03) and not is_simple:
            length = dice.randrange(16 * 3600, DAY_S - grid, max(grid, 60))
        start = dice.randrange(4 * 3600, 12 * 3600, grid)
        if dice.chance(0.12) and not is_simple:
            start = dice.randrange(0, DAY_S, grid)
        if is_simple:
            length = min(length, DAY_S - start)
        end = start + length
        dawn_s, dusk_s = self._two_ramps(length)
        made: dict[str, Any] = {"kind": "ramps"}
        if end > DAY_S:
            made["ends_next_day"] = True
        elif dice.chance(0.05):
            made["ends_next_day"] = False
        peaks: list[dict[str, Any]] = [{"light_percent": self._light(is_peak=True)}]
        left_from, left_to = start + dawn_s, end - dusk_s
        more = 0 if is_simple else dice.pick({0: 10, 1: 3, 2: 1, 4: 0.3})
        for _ in range(more):
            room = left_to - left_from
            if room < 4 * 60:
                break
            begin = left_from + dice.randrange(0, room // 2, 60)
            minutes = dice.randrange(0, (left_to - begin) // 120 + 1)
            peak = {"light_percent": self._light(), "from": clock_text(begin), "minutes": minutes}
            if dice.chance(0.6):
                peak["shape"] = dice.pick(SHAPES)
            peaks.append(peak)
            left_from = begin + minutes * 60
        made["dawn"] = self._dawn({"start": clock_text(start)}, start, dawn_s)
        made["peaks"] = peaks
        made["dusk"] = self._dusk({"end": clock_text(end, is_end=end % DAY_S == 0)}, end, dusk_s)
        return made

    def _two_ramps(self, length: int) -> tuple[int, int]:
        dice = self.dice
        if dice.chance(0.12):  # no time at the peak
            dawn = length // 120 * 60
            return dawn, length - dawn
        if dice.chance(0.06):
            return 0, 0
        half = length // 120
        return tuple(
            60 * min(dice.pick((30, 45, 60, 90, 120, dice.randint(10, 240))), half)
            for _ in range(2)
        )  # type: ignore[return-value]

    def _dawn(self, made: dict[str, Any], start: int, length_s: int) -> dict[str, Any]:
        dice = self.dice
        if dice.chance(0.15) and length_s:
            made["end"] = clock_text(start + length_s, is_end=True)
        else:
            made["minutes"] = _minutes(length_s)
        if dice.chance(0.7):
            made["shape"] = dice.pick(SHAPES)
        return made

    def _dusk(self, made: dict[str, Any], end: int, length_s: int) -> dict[str, Any]:
        dice = self.dice
        if dice.chance(0.15) and length_s:
            made["start"] = clock_text(end - length_s)
        else:
            made["minutes"] = _minutes(length_s)
        if dice.chance(0.7):
            made["shape"] = dice.pick(SHAPES)
        return made

    def _points(self) -> dict[str, Any]:
        """Return a day of points; some of them make steps, some days are never dark."""
        dice, grid = self.dice, max(self.grid_s, 300)
        count = dice.pick({2: 3, 3: 3, 4: 4, 6: 3, 9: 1, 14: 0.3})
        if dice.chance(0.08):
            inner = sorted(dice.sample(range(grid, DAY_S, grid), max(count - 2, 0)))
            seconds = [0, *inner, DAY_S]
            low = dice.pick({0.0: 1, 10.0: 2, 30.0: 2})
            lights = [dice.number(low, 90, 0) for _ in seconds]
            lights[-1] = lights[0] if dice.chance(0.8) else lights[-1]
        else:
            start = (
                dice.randrange(0, DAY_S, grid)
                if dice.chance(0.2)
                else dice.randrange(5 * 3600, 11 * 3600, grid)
            )
            length = dice.randrange(2 * 3600, 18 * 3600, 300)
            inner = sorted(dice.sample(range(start + 300, start + length, 300), count - 2))
            seconds = [start, *inner, start + length]
            lights = [self._light() for _ in seconds]
            if dice.chance(0.7):
                lights[0] = lights[-1] = 0
        points = []
        for at, (second, light) in enumerate(zip(seconds, lights, strict=True)):
            is_end = at == len(seconds) - 1
            points.append(
                {"time": clock_text(second, is_end=second == DAY_S), "light_percent": light}
            )
            if at > 0 and not is_end and dice.chance(0.12):
                points.append(
                    {
                        "time": clock_text(second, is_end=second == DAY_S),
                        "light_percent": self._light(),
                    }
                )
        if self.by_sky and dice.chance(0.3) and len(points) == 2:
            points[0]["time"] = self.event("sunrise")
            points[1]["time"] = self.event("sunset")
        return {"kind": "points", "points": points}

    def _ramps_by_sky(self) -> dict[str, Any]:
        """Return a day of ramps between events of the sky, one end of which may be by the clock."""
        dice = self.dice
        ramp = dice.pick((0, 20, 30, 45))
        dawn: dict[str, Any] = {
            "start": self.event(
                dice.pick(
                    ("sunrise", "sunrise", "civil dawn", "nautical dawn", "astronomical dawn")
                )
            )
        }
        dusk: dict[str, Any] = {
            "end": self.event(
                dice.pick(("sunset", "sunset", "civil dusk", "nautical dusk", "astronomical dusk"))
            )
        }
        peaks: list[dict[str, Any]] = [{"light_percent": self._light(is_peak=True)}]
        which = dice.pick({"both": 6, "dawn": 1, "dusk": 1, "noon": 1})
        if which == "dawn":
            dusk["end"] = "20:00"
        if which == "dusk":
            dawn["start"] = "08:00"
        dawn["minutes"] = dusk["minutes"] = ramp
        if which == "noon":
            peaks.append(
                {
                    "light_percent": self._light(),
                    "from": self.event("noon"),
                    "minutes": dice.pick((0, 10, 20)),
                }
            )
        for part in (dawn, dusk):
            if dice.chance(0.6):
                part["shape"] = dice.pick(SHAPES)
        return {"kind": "ramps", "dawn": dawn, "peaks": peaks, "dusk": dusk}

    def event(self, name: str) -> str | dict[str, Any]:
        """Return an event, with an offset or bounds now and then."""
        dice = self.dice
        text = name
        if dice.chance(0.4):
            sign = "+" if ("rise" in name or "dawn" in name) == dice.chance(0.8) else "-"
            text = f"{name} {sign} {dice.pick((5, 15, 30, 60))} min"
        if not dice.chance(0.9 if self.is_polar else 0.2):
            return text
        is_early = "rise" in name or "dawn" in name
        early, late = ("05:00", "09:30") if is_early else ("15:00", "21:30")
        if name == "noon":
            early, late = "11:00", "14:00"
        made: dict[str, Any] = {"at": text}
        if dice.chance(0.6):
            made["not_before"] = early
        if dice.chance(0.6):
            made["not_after"] = late
        if dice.chance(0.9 if self.is_polar else 0.3):
            made["if_none"] = "08:00" if is_early else "18:00"
        if dice.chance(0.3):
            made["if_sun_stays_up"] = "06:00" if is_early else "20:00"
        if dice.chance(0.3):
            made["if_sun_stays_down"] = "09:00" if is_early else "16:00"
        return made

    def moonlight(self) -> dict[str, Any]:
        """Return light of the night."""
        dice = self.dice
        kind = (
            dice.pick({"phase": 2, "phase-and-rise": 2, "steady": 2})
            if dice.chance(self.by_sky)
            else "steady"
        )
        start = dice.randrange(19 * 3600, 24 * 3600, self.grid_s)
        end = dice.randrange(4 * 3600, 9 * 3600, self.grid_s)
        if dice.chance(0.1):
            start, end = dice.randrange(0, 3 * 3600, self.grid_s), DAY_S - 3600
        made: dict[str, Any] = {"kind": kind}
        made["light_percent" if kind == "steady" else "full_light_percent"] = dice.pick(
            (0.5, 1, 2, 5, 10, 20, dice.number(0, 30))
        )
        made["start"], made["end"] = clock_text(start), clock_text(end)
        if self.by_sky and dice.chance(0.4):
            made["start"], made["end"] = self.event("sunset"), self.event("sunrise")
        return made


def _minutes(seconds: int) -> float:
    """Return minutes; a whole number where they are."""
    return seconds // 60 if seconds % 60 == 0 else round(seconds / 60, 4)


def most_percent(channel: dict[str, Any]) -> float:
    """Return the most light that a channel wants. [% of full]"""
    day, moon = channel.get("day", {}), channel.get("moonlight", {})
    found = [
        day.get("peak_light_percent", 0),
        moon.get("light_percent", 0),
        moon.get("full_light_percent", 0),
    ]
    found += [each["light_percent"] for each in (*day.get("peaks", ()), *day.get("points", ()))]
    return max(found)


def follows_sky(channel: dict[str, Any]) -> bool:
    """Return whether a channel follows sun or moon."""
    text = repr([channel.get("day"), channel.get("moonlight")])
    names = (
        "sunrise",
        "sunset",
        "noon'",
        "noon ",
        "civil",
        "nautical",
        "astronomical",
        "'sun'",
        "'phase",
    )
    return any(name in text for name in names)
