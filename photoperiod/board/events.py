"""The words that logs and brokers get: events of a player, and the state it is in."""

from __future__ import annotations

from enum import StrEnum


class Event(StrEnum):
    """What happened to a player; the column ``event`` of its log."""

    START = "start"
    STOP = "stop"
    SAFE = "safe"
    RESUMED = "resumed"
    HOLD = "hold"
    RELEASE = "release"
    OVERRIDE = "override"
    OVERRIDE_OVER = "override-over"
    CLOCK_STEP = "clock-step"
    RELOAD = "reload"
    REFUSED = "refused"
    EXPIRED = "expired"
    EARLY = "early"
    DEVICE_LOST = "device-lost"
    DEVICE_BACK = "device-back"
    DEVICE_DIFFERS = "device-differs"
    SENSE_DIFFERS = "sense-differs"
    BROKER_LOST = "broker-lost"
    BROKER_BACK = "broker-back"
    LOG_LOST = "log-lost"
    LOG_BACK = "log-back"


#: The state must be saved at once after these: a player that is killed within the next minute must
#: remember that its lamps went dark, whether its clock could be trusted, and no time that was wrong.
SAVED_AT_ONCE = frozenset({Event.SAFE, Event.RESUMED, Event.HOLD, Event.RELEASE, Event.CLOCK_STEP})


class PlayerState(StrEnum):
    """The state of a player, as a broker shows it."""

    RUNNING = "running"
    HELD = "held"
    SAFE = "safe"
    STOPPED = "stopped"
    GONE = "gone"
