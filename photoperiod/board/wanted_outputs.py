"""What each lamp should get now: the table, the safe state, light by hand, and soft starts over them."""

from __future__ import annotations

from collections.abc import Mapping

from photoperiod.board.alarms import AlarmKey, Alarms
from photoperiod.board.channel_output import ChannelOutput, SoftStartCause
from photoperiod.board.clock_trust import ClockWatch
from photoperiod.board.events import Event
from photoperiod.board.journal import Journal
from photoperiod.board.override import Overriding
from photoperiod.board.table_file import LoadedTable
from photoperiod.formats.image import ChannelImage, Image, day_number
from photoperiod.player.reference import Output, Status, open_output, play, soft_ceiling

Channels = Mapping[str, ChannelOutput]


class WantedOutputs:
    """Asks the reference player, and begins and ends soft starts.

    Parameters
    ----------
    clock : ClockWatch
        Whether the clock is trusted.
    override : Overriding
        Light by hand.
    alarms, journal : Alarms, Journal
        Where a table outside its dates is reported.
    """

    def __init__(
        self, clock: ClockWatch, override: Overriding, alarms: Alarms, journal: Journal
    ) -> None:
        self._clock, self._override = clock, override
        self._alarms, self._journal = alarms, journal
        self.is_safe = False

    def at(
        self, loaded: LoadedTable, channels: Channels, unix_s: int, boot_s: float, *, is_held: bool
    ) -> list[Output]:
        """Return the output of every channel at a moment.

        ``is_safe`` is True then if it is the safe state.

        Parameters
        ----------
        loaded : LoadedTable
            The table that is played.
        channels : mapping of id to ChannelOutput
            Its channels, in its order.
        unix_s, boot_s : int, float
            Now, by the clock [Unix seconds] and since the machine started [s].
        is_held : bool
            Whether a person holds the lamps.
        """
        image = loaded.table.image
        date, second = loaded.clock.wall_of(unix_s)
        day = day_number(date) if image.span is not None else 0
        status, outputs = play(
            image, day, second, clock_valid=self._clock.is_trusted, stopped=is_held
        )
        self.is_safe = Status.SAFE in status
        if self.is_safe:
            for channel in channels.values():
                channel.soft_start_cause = SoftStartCause.START
                channel.soft_start_boot_s = None
            return _held_open(image, channels, outputs, is_held=is_held)
        planned = dict(zip(channels, outputs, strict=True))
        found = self._override.apply(loaded.table, date, channels, planned)
        self._check_dates(status)
        return [
            channel.confirmed(
                self._softly(image, at, channel, found[id], planned[id], (day, second), boot_s)
            )
            for at, (id, channel) in enumerate(channels.items())
        ]

    def safe_state(self, image: Image, channels: Channels, *, is_held: bool) -> list[Output]:
        """Return the outputs of the safe state, whatever the time is."""
        _, outputs = play(image, 0, 0, clock_valid=False)
        return _held_open(image, channels, outputs, is_held=is_held)

    def _softly(
        self,
        image: Image,
        at: int,
        channel: ChannelOutput,
        wanted: Output,
        planned: Output,
        moment: tuple[int, int],
        boot_s: float,
    ) -> Output:
        """Return the output of the channel at a place in the table, no brighter than a soft start allows."""
        about: ChannelImage = image.channels[at]
        channel.begin_soft_start(image, about, wanted, boot_s)
        if channel.soft_start_boot_s is None:
            return wanted
        since_s = int(boot_s - channel.soft_start_boot_s)
        if since_s >= image.soft_start_minutes * 60:
            channel.soft_start_boot_s = None
            return wanted
        if wanted == planned:
            _, softly = play(image, *moment, since_start_s=since_s)
            return softly[at]
        most = soft_ceiling(image, about, since_s)  # by hand
        return Output(most, image.code_of(most), True) if wanted.count > most else wanted

    def _check_dates(self, status: Status) -> None:
        """Raise and end the alarms of a table that is played outside its dates."""
        for flag, key, event, text in (
            (
                Status.EXPIRED,
                AlarmKey.EXPIRED,
                Event.EXPIRED,
                "the table is past its last date; the last one goes on",
            ),
            (
                Status.EARLY,
                AlarmKey.EARLY,
                Event.EARLY,
                "the table has not begun yet; its first one is played",
            ),
        ):
            if flag not in status:
                self._alarms.clear(key)
            elif self._alarms.set(key, text):
                self._journal.event(event)


def _held_open(
    image: Image, channels: Channels, outputs: tuple[Output, ...], *, is_held: bool
) -> list[Output]:
    """Return outputs of the safe state; while a person holds the lamps their relays are open."""
    return [
        open_output(image) if is_held and channel.can_open else output
        for channel, output in zip(channels.values(), outputs, strict=True)
    ]
