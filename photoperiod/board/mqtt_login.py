"""A client of an MQTT broker, ready to connect. The library is an extra of this package."""

from __future__ import annotations

from typing import Any

from photoperiod.board.config import BrokerConfig
from photoperiod.errors import OutsideWorldError, os_reason


def login(config: BrokerConfig) -> Any:
    """Return a client of the library paho-mqtt, with user, password and certificates set.

    Raises
    ------
    OutsideWorldError
        PHO508 if the library is missing, or a file that the board file names cannot be read.
    """
    try:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion
    except ImportError as error:
        raise OutsideWorldError(
            "PHO508",
            "the board needs a broker, and the library for MQTT is not installed",
            "pip install 'photoperiod[mqtt]'",
        ) from error
    client = Client(CallbackAPIVersion.VERSION2)
    try:
        if config.username is not None:
            client.username_pw_set(config.username, _password(config))
        if config.ca_file is not None:
            client.tls_set(ca_certs=str(config.ca_file))
    except (OSError, ValueError) as error:
        raise OutsideWorldError(
            "PHO508",
            f"can't log in to the broker: {os_reason(error)}",
            "check `password_file` and `ca_file`, and who may read them",
        ) from error
    return client


def _password(config: BrokerConfig) -> str | None:
    if config.password_file is None:
        return None
    return (config.password_file.read_text(encoding="utf-8").splitlines() or [""])[0]
