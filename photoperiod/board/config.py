"""The settings of a board: which devices a channel has, and all the rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path

from photoperiod.board.devices.lines import Bias, Drive

#: Largest difference between two statements on the volts of a converter at its top [V]. Our choice:
#: references and resistors are off by one or two per cent, a wrong gain by far more.
SCALE_SLACK_VOLTS = 0.3


class OutputKind(StrEnum):
    """What sets a level; see `photoperiod.board.devices`."""

    IIO = "iio"
    PWM = "pwm"
    MQTT = "mqtt"
    STDOUT = "stdout"


class RelayKind(StrEnum):
    """What switches the mains of a lamp; see `photoperiod.board.devices`."""

    LED = "led"
    GPIO = "gpio"
    MQTT = "mqtt"
    NONE = "none"


class TrustPolicy(StrEnum):
    """What the player asks before it trusts the clock; see `photoperiod.board.clock_trust`."""

    AUTO = "auto"
    SYNCHRONISED = "synchronised"
    LATER = "later"


#: Outputs whose receiver also learns the state of the relay, and may switch it itself.
CARRIES_RELAY = (OutputKind.STDOUT, OutputKind.MQTT)


@dataclass(frozen=True, slots=True, kw_only=True)
class OutputConfig:
    """What sets the level of a channel; ``kind`` decides which other fields count."""

    kind: OutputKind
    device: str = ""
    chip: int = 0
    channel: int = 0
    gain: float | None = None
    period_ns: int = 0
    polarity: str | None = None
    topic: str = ""
    bits: int | None = None
    full_scale_volts: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RelayConfig:
    """What makes a channel dark; ``kind`` decides which other fields count."""

    kind: RelayKind
    name: str = ""
    line: str = ""
    chip: str = ""
    active_low: bool = False
    drive: Drive = Drive.PUSH_PULL
    topic: str = ""
    closed: str = "on"
    open: str = "off"


#: How far measured volts may be from those that are put out, unless the board file says it. [V]
TOLERANCE_VOLTS = 0.5


class SenseKind(StrEnum):
    """What measures whether a lamp burns; see `photoperiod.board.sensors`."""

    CONTACT = "contact"
    VOLTS = "volts"
    LIGHT = "light"


@dataclass(frozen=True, slots=True, kw_only=True)
class SenseConfig:
    """What measures a lamp; ``kind`` decides which of the other fields count."""

    kind: SenseKind
    file: str = ""
    line: str = ""
    chip: str = ""
    bias: Bias = Bias.AS_IS
    closed: int = 1
    volts_per_unit: float = 0.0
    tolerance_volts: float = TOLERANCE_VOLTS
    lit_above: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BrokerConfig:
    """An MQTT broker.

    Parameters
    ----------
    host, port, username, password_file, ca_file
        How to reach it.
    topic : str
        The beginning of the player's own topics.
    table_topic : str or None
        Where tables arrive.
    expire_s : int
        How long it keeps what is published, unless that is renewed. [s]
    """

    host: str
    topic: str
    port: int = 1883
    username: str | None = None
    password_file: Path | None = None
    ca_file: Path | None = None
    table_topic: str | None = None
    expire_s: int = 900


@dataclass(frozen=True, slots=True)
class HookConfig:
    """A command that is run for each alarm, and how long it may take. [s]"""

    command: tuple[str, ...]
    limit_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardConfig:
    """The settings in a board file.

    Parameters
    ----------
    name : str
        The name of the file, for messages.
    state_folder, runtime_folder, log_folder, sysfs : Path
        Folders; the second one serves while the first can't be written.
    log_every_s : int
        The log gets a record of every channel at least this often. [s]
    trust : TrustPolicy
        What the player asks before it trusts the clock.
    time_zone : str or None
        The zone of the controller's clock, used if the table names none.
    channels : mapping of id to (OutputConfig, RelayConfig)
        Those that the file names, in its order.
    senses : mapping of id to tuple of SenseConfig
        What measures the lamp of a channel; channels without are left out.
    others_print : bool
        Channels that the file does not name print lines of text; otherwise each must be named.
    metrics_file : Path or None
        Where metrics go, if anywhere.
    alarm_hook : HookConfig or None
        What is run for each alarm.
    broker : BrokerConfig or None
        Present if an output or relay needs one.
    """

    name: str
    state_folder: Path
    runtime_folder: Path
    log_folder: Path
    sysfs: Path
    channels: Mapping[str, tuple[OutputConfig, RelayConfig]]
    senses: Mapping[str, tuple[SenseConfig, ...]] = field(default_factory=dict)
    others_print: bool = False
    log_every_s: int = 60
    trust: TrustPolicy = TrustPolicy.AUTO
    time_zone: str | None = None
    metrics_file: Path | None = None
    alarm_hook: HookConfig | None = None
    broker: BrokerConfig | None = None

    def devices(self, id: str) -> tuple[OutputConfig, RelayConfig] | None:
        """Return output and relay of a channel; None if the file has none for it."""
        printed = OutputConfig(kind=OutputKind.STDOUT), RelayConfig(kind=RelayKind.NONE)
        return self.channels.get(id, printed if self.others_print else None)
