"""What the player does about its broker: notice that it is away, repeat all when it is back, and renew."""

from __future__ import annotations

from collections.abc import Iterable

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.events import Event, PlayerState
from photoperiod.board.journal import Journal
from photoperiod.board.mqtt import Broker
from photoperiod.board.mqtt_login import MAX_TABLE_BYTES

#: A broker that never connected is missed after this time. [s]
GRACE_S = 10.0


class BrokerLink:
    """The connection of a player to its broker.

    Parameters
    ----------
    broker : Broker or None
        None if the board has no broker: then nothing here does anything.
    alarms : Alarms
        Where a broker that is away is reported.
    journal : Journal
        Where its events go.
    start_boot_s : float
        When the player began, since the start of the machine. [s]
    """

    def __init__(
        self, broker: Broker | None, alarms: Alarms, journal: Journal, start_boot_s: float
    ) -> None:
        self.broker, self.alarms, self.journal = broker, alarms, journal
        self._start_boot_s = start_boot_s
        self._connections = 0
        self._renewed_boot_s = start_boot_s
        self._why_away = ""
        self._published: tuple[PlayerState, int] | None = None

    def take_offered_table(self) -> bytes | None:
        """Return the table that was published last, once; None if there is none that may be read."""
        raw = None if self.broker is None else self.broker.take_offered_table()
        if raw is None or len(raw) <= MAX_TABLE_BYTES:
            return raw
        text = (
            f"PHO505: the table that was handed out is larger than {MAX_TABLE_BYTES:,} bytes;"
            " the last good table goes on"
        )
        if self.alarms.set(AlarmKey.TABLE, text):
            self.journal.event(Event.REFUSED)
        return None

    def check(self, boot_s: float, channels: Iterable[ChannelOutput]) -> None:
        """Raise or end the alarm, and have channels publish again after a connection."""
        broker = self.broker
        if broker is None:
            return
        self._check_older_table(broker)
        self._check_another(broker)
        if not broker.is_connected:
            self._check_absence(broker, boot_s)
        elif broker.connections != self._connections:
            self._connections = broker.connections
            self._renewed_boot_s = boot_s
            for channel in channels:
                channel.publish_again()
            self._published = None
            if self.alarms.clear(AlarmKey.BROKER):
                self.journal.event(Event.BROKER_BACK)
        elif boot_s - self._renewed_boot_s >= broker.renew_every_s:
            self._renewed_boot_s = boot_s
            broker.renew()

    def _check_older_table(self, broker: Broker) -> None:
        if not broker.has_older_table:
            self.alarms.clear(AlarmKey.OLDER_TABLE)
            return
        text = (
            "the broker hands out a table that was replaced before, as one does that was killed; the"
            " present table goes on: publish again what is to be played"
        )
        if self.alarms.set(AlarmKey.OLDER_TABLE, text):
            self.journal.event(Event.REFUSED)

    def _check_another(self, broker: Broker) -> None:
        text = (
            "another player publishes on the broker's topic of this one: listeners get the levels of both;"
            " give each board a `topic` of its own, or stop one of them"
        )
        if broker.hears_another:
            self.alarms.set(AlarmKey.ANOTHER_PLAYER, text)
        else:
            self.alarms.clear(AlarmKey.ANOTHER_PLAYER)

    def _check_absence(self, broker: Broker, boot_s: float) -> None:
        is_late = boot_s - self._start_boot_s > GRACE_S
        if not (self._connections > 0 or is_late or broker.refusal):
            return
        if broker.refusal or not self.alarms.has(AlarmKey.BROKER):
            # Attempts may fail for another reason each time: the first one is told, and no second alarm.
            self._why_away = broker.refusal or broker.unreached
        why = f" ({self._why_away})" if self._why_away else ""
        text = f"the broker is away{why}; the player goes on, and publishes all when it is back"
        if self.alarms.set(AlarmKey.BROKER, text):
            self.journal.event(Event.BROKER_LOST)

    def publish_state(self, state: PlayerState) -> None:
        """Publish the state and the alarms if either has changed."""
        if self.broker is None or not self.broker.is_connected:
            return
        now = (state, self.alarms.version)
        if now != self._published:
            self._published = now
            self.broker.publish_state(state, self.alarms.texts)

    def close(self) -> None:
        """Publish that the player has stopped, and disconnect."""
        if self.broker is not None:
            self.broker.publish_state(PlayerState.STOPPED, self.alarms.texts)
            self.broker.close()
