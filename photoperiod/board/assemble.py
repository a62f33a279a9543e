"""How a player begins: its first table, its devices, and the last good table if one is refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from photoperiod.board.board_file import BoardFile
from photoperiod.board.channel_output import ChannelOutput
from photoperiod.board.config import (
    BoardConfig,
    OutputConfig,
    OutputKind,
    RelayConfig,
    RelayKind,
    SenseConfig,
)
from photoperiod.board.converter_change import check_converters
from photoperiod.board.devices.base import (
    DeviceFault,
    DeviceMismatch,
    NoRelay,
    OutputDevice,
    RelayDevice,
)
from photoperiod.board.devices.gpio import GpioContact, GpioRelay
from photoperiod.board.devices.iio import IioOutput
from photoperiod.board.devices.led import LedRelay
from photoperiod.board.devices.mqtt import MqttOutput, MqttRelay
from photoperiod.board.devices.pwm import PwmOutput
from photoperiod.board.devices.stdout import StdoutOutput
from photoperiod.board.devices.sysfs import Files
from photoperiod.board.mqtt import Broker, PahoBroker
from photoperiod.board.player import Player
from photoperiod.board.sensors import FileSensor, SensorStatus
from photoperiod.board.state_store import StateStore
from photoperiod.board.surroundings import Surroundings
from photoperiod.board.table_file import LoadedTable, load_table
from photoperiod.errors import OutsideWorldError

_OUTPUTS: Mapping[OutputKind, Callable[[OutputConfig, Files, Surroundings], OutputDevice]] = {
    OutputKind.IIO: lambda config, files, _: IioOutput(config, files),
    OutputKind.PWM: lambda config, files, _: PwmOutput(config, files),
    OutputKind.MQTT: lambda config, _, around: MqttOutput(config, _broker(around)),
    OutputKind.STDOUT: lambda config, files, around: StdoutOutput(around.stream),
}

_RELAYS: Mapping[RelayKind, Callable[[RelayConfig, str, Surroundings], RelayDevice]] = {
    RelayKind.LED: lambda config, name, around: LedRelay(config, around.writers.files(name)),
    RelayKind.GPIO: lambda config, name, around: GpioRelay(config, around.writers.lines(name)),
    RelayKind.MQTT: lambda config, _, around: MqttRelay(config, _broker(around)),
    RelayKind.NONE: lambda *_: NoRelay(),
}

#: Relays of this machine: they can be opened without a table and without a broker.
_LOCAL_RELAYS = frozenset({RelayKind.LED, RelayKind.GPIO})


def _output(id: str, config: OutputConfig, around: Surroundings) -> OutputDevice:
    return _OUTPUTS[config.kind](config, around.writers.files(f"output of '{id}'"), around)


def _relay(id: str, config: RelayConfig, around: Surroundings) -> RelayDevice:
    return _RELAYS[config.kind](config, f"relay of '{id}'", around)


def _reader(id: str, config: SenseConfig, around: Surroundings) -> Callable[[], float]:
    """Return what gives the number that a sensor says."""
    name = f"{config.kind} of '{id}'"
    if config.line:
        return GpioContact(config, around.writers.lines(name)).read
    return FileSensor(config, around.writers.files(name)).read


def _broker(around: Surroundings) -> Broker:
    assert around.broker is not None, "a board file without a broker has no devices of kind mqtt"
    return around.broker


def first_table(
    file: BoardFile, around: Surroundings
) -> tuple[LoadedTable | None, OutsideWorldError | None]:
    """Return the table to begin with; if it is the copy of the last good one, also why.

    Where board and table do not fit each other, the report of the board file gets findings.

    Returns
    -------
    LoadedTable or None
        None if the table does not fit the board: the report says where.
    OutsideWorldError or None
        Why the table in the file is refused.

    Raises
    ------
    OutsideWorldError
        If no table can be played. The relays are opened first: nothing says which light is right.
    """
    config = around.config
    try:
        loaded = around.file.load(config)
        _check_against_good_table(around.store, config, loaded)
    except OutsideWorldError as error:
        refused = error
    else:
        file.check_table(loaded.table)
        return loaded, None
    good = _good_table(around.store, config)
    if good is not None:
        return good, refused
    # Said first: what follows is the way to safety, and any fault of a relay only comes on top.
    around.say(f"no table can be played, so relays are opened: {refused}")
    _open_local_relays(around)
    if refused.code == "PHO506":
        file.check_table(around.file.read())
        return None, refused
    raise refused


def _good_table(store: StateStore, config: BoardConfig) -> LoadedTable | None:
    """Return the copy of the last good table; None if there is none that can be played."""
    try:
        return load_table(store.good_table, config, store.disk)
    except OutsideWorldError:
        return None


def _check_against_good_table(store: StateStore, config: BoardConfig, loaded: LoadedTable) -> None:
    """Raise PHO507 if a table is for other converters than the last good one, if that is another."""
    try:
        raw = store.disk.read(store.good_table, len(loaded.raw) + 1)
    except OSError:
        return
    good = _good_table(store, config) if raw != loaded.raw else None
    if good is not None:
        check_converters(config, good.table, loaded.table)


def _open_local_relays(around: Surroundings) -> None:
    for id, (_, relay) in around.config.channels.items():
        if relay.kind not in _LOCAL_RELAYS:
            continue
        try:
            device = _relay(id, relay, around)
            device.open()
            device.write(False)
            if device.read_back():
                raise DeviceFault("it is still closed: its lamp may burn")
        except (DeviceFault, OSError, OutsideWorldError) as error:
            around.say(f"can't open the relay of '{id}': {error}")


def start_player(
    around: Surroundings, table: LoadedTable, refused: OutsideWorldError | None = None
) -> Player:
    """Return a player that has begun; with the last good table if the outputs refuse this one.

    Parameters
    ----------
    around : Surroundings
        All that it works with.
    table : LoadedTable
        The table to begin with.
    refused : OutsideWorldError or None
        Why this is the copy of the last good table, if it is.

    Raises
    ------
    OutsideWorldError
        PHO507 if a device is not what the board file says; PHO508 if the broker's library or files
        cannot be used. A device that is absent only raises an
        alarm: it may come later, and relays must open at night without it.
    """
    if around.broker is None and around.config.broker is not None:
        around = replace(around, broker=PahoBroker(around.config.broker))
    while True:
        try:
            return assemble(around, table, refused)
        except DeviceMismatch as error:
            name = around.config.name
            refused = OutsideWorldError(
                "PHO507", str(error), f"correct '{name}'; a converter may be wrong in the schedule"
            )
            good = _good_table(around.store, around.config)
            if good is None or good.raw == table.raw:
                raise refused from error
            table = good


def assemble(
    around: Surroundings, table: LoadedTable, refused: OutsideWorldError | None = None
) -> Player:
    """Return a player whose devices are ready, and put out what they did before.

    Raises
    ------
    DeviceMismatch
        If a device is not what the board file says, or the table is for another converter.
    """
    channels = {}
    for id, path in table.table.paths.items():
        devices = around.config.devices(id)
        assert devices is not None, "a table whose channels have no devices is refused before"
        output, relay = devices
        channels[id] = ChannelOutput(
            id, _output(id, output, around), _relay(id, relay, around), path
        )
    sensors = {
        id: [SensorStatus(one, _reader(id, one, around)) for one in configs]
        for id, configs in around.config.senses.items()
    }
    player = Player(around, table, channels, refused, sensors)
    player.begin()
    return player
