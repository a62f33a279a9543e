"""A client of an MQTT broker, ready to connect. The library is an extra, and said so if missing."""

from __future__ import annotations

from typing import Any

from photoperiod.board.config import BrokerPlan
from photoperiod.errors import OutsideWorldError, os_reason


def login(plan: BrokerPlan) -> Any:
    """Return a client of the paho library with user, password and certificates set.

    Raises
    ------
    OutsideWorldError
        PHO508 if the library is missing, or what the plan names can't be read.
    """
    try:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion
    except ImportError as error:
        raise OutsideWorldError(
            "PHO508",
            "a broker is named, and the library for MQTT is not installed",
            "pip install 'photoperiod[mqtt]'",
        ) from error
    client = Client(CallbackAPIVersion.VERSION2)
    try:
        if plan.username is not None:
            client.username_pw_set(plan.username, _password(plan))
        if plan.ca_file is not None:
            client.tls_set(ca_certs=str(plan.ca_file))
    except (OSError, ValueError) as error:
        raise OutsideWorldError(
            "PHO508",
            f"can't log in to the broker: {os_reason(error)}",
            "check `password_file` and `ca_file`, and who may read them",
        ) from error
    return client


def _password(plan: BrokerPlan) -> str | None:
    if plan.password_file is None:
        return None
    return (plan.password_file.read_text(encoding="utf-8").splitlines() or [""])[0]
