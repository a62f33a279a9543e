"""A client of an MQTT broker, ready to connect. The library is an extra of this package."""

from __future__ import annotations

from typing import Any

from photoperiod.board.config import BrokerConfig
from photoperiod.errors import OutsideWorldError, os_reason
from photoperiod.text import extra_text

#: The largest table that goes through a broker [bytes]. A year of dated tables as `export binary` is a
#: tenth of it; a larger message takes a small board's memory, and its time. Our choice.
MAX_TABLE_BYTES = 2**20

#: What a packet may hold beside a table: a topic and its properties. [bytes]
BESIDE_TABLE_BYTES = 2**16


def login(config: BrokerConfig, *, client_id: str = "", reconnects: bool = True) -> Any:
    """Return a client of the library paho-mqtt for MQTT 5, with user, password and certificates set.

    Parameters
    ----------
    config : BrokerConfig
        The broker.
    client_id : str
        Its name at the broker, which ends an older connection of that name; empty for a new one.
    reconnects : bool
        False if it ends with its connection.

    Raises
    ------
    OutsideWorldError
        PHO508 if the library is missing, or a file that the board file names cannot be read.
    """
    try:
        from paho.mqtt.client import Client, MQTTv5
        from paho.mqtt.enums import CallbackAPIVersion
    except ImportError as error:
        raise OutsideWorldError(
            "PHO508",
            "the board needs a broker, and the library for MQTT is not installed",
            extra_text("mqtt"),
        ) from error
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=client_id,
        protocol=MQTTv5,
        reconnect_on_failure=reconnects,
    )
    if config.password_file is not None and config.username is None:
        raise OutsideWorldError(
            "PHO508",
            "can't log in to the broker: there is a password, and no user name",
            "name the user, too",
        )
    path = config.password_file
    try:
        if config.username is not None:
            client.username_pw_set(config.username, _password(config))
        path = config.ca_file
        if path is not None:
            client.tls_set(ca_certs=str(path))
    except (OSError, ValueError) as error:
        raise OutsideWorldError(
            "PHO508",
            f"can't log in to the broker: '{path}': {os_reason(error)}",
            "check `password_file` and `ca_file`, and who may read them",
        ) from error
    return client


def connect(client: Any, config: BrokerConfig, keep_alive_s: int) -> None:
    """Connect a client without an old session; packets larger than a table are not sent to it.

    Raises
    ------
    OSError, ValueError
        If the broker can't be reached.
    """
    limits = _properties("CONNECT", MaximumPacketSize=MAX_TABLE_BYTES + BESIDE_TABLE_BYTES)
    client.connect(config.host, config.port, keep_alive_s, clean_start=True, properties=limits)


def expiring(expire_s: int) -> Any:
    """Return the properties of a message that the broker keeps for so long. [s]"""
    return _properties("PUBLISH", MessageExpiryInterval=expire_s)


def _properties(packet: str, **values: int) -> Any:
    from paho.mqtt.packettypes import PacketTypes
    from paho.mqtt.properties import Properties

    make: Any = Properties
    found = make(getattr(PacketTypes, packet))
    for name, value in values.items():
        setattr(found, name, value)
    return found


def _password(config: BrokerConfig) -> str | None:
    if config.password_file is None:
        return None
    return (config.password_file.read_text(encoding="utf-8").splitlines() or [""])[0]
