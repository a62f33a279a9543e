"""What a plan can ask of the sun, by name."""

from __future__ import annotations

from enum import StrEnum


class SunEvent(StrEnum):
    """An event of the sun, as a schedule writes it."""

    ASTRONOMICAL_DAWN = "astronomical dawn"
    NAUTICAL_DAWN = "nautical dawn"
    CIVIL_DAWN = "civil dawn"
    SUNRISE = "sunrise"
    NOON = "noon"
    SUNSET = "sunset"
    CIVIL_DUSK = "civil dusk"
    NAUTICAL_DUSK = "nautical dusk"
    ASTRONOMICAL_DUSK = "astronomical dusk"

    @property
    def is_evening(self) -> bool:
        """True for what comes after the sun's noon."""
        return self.value.endswith(("set", "dusk"))


class SunModel(StrEnum):
    """How the light of the sun depends on its height."""

    SINE = "sine"  # as the sine of the height: light on level ground without an atmosphere
    CLEAR_SKY = "clear-sky"  # less near the horizon, as under a cloudless sky
