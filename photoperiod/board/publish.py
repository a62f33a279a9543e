"""Publish tables: each as one retained message, which a player receives whenever it connects."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import Any

from photoperiod.board.config import BrokerConfig
from photoperiod.board.mqtt_login import login
from photoperiod.errors import OutsideWorldError, os_reason

#: How long the broker may take to answer, and to take a message [s]. Our choice.
ANSWER_S = 10.0


def publish(config: BrokerConfig, tables: Mapping[str, bytes]) -> None:
    """Publish tables by topic, retained and with quality of service 1; wait until all are taken.

    Raises
    ------
    OutsideWorldError
        PHO508 if the broker cannot be reached, refuses, or does not take them.
    """
    client, answers = login(config), []

    def on_connect(_client: Any, _data: Any, _flags: Any, reason: Any, _more: Any) -> None:
        answers.append(reason)

    client.on_connect = on_connect
    try:
        client.connect(config.host, config.port)
    except (OSError, ValueError) as error:
        raise _refused(config, f"can't be reached: {os_reason(error)}") from error
    client.loop_start()
    try:
        until = time.monotonic() + ANSWER_S
        while not answers and time.monotonic() < until:
            time.sleep(0.01)
        if not answers or answers[0].is_failure:
            raise _refused(config, str(answers[0]).lower() if answers else "does not answer")
        for topic, raw in tables.items():
            try:
                said = client.publish(topic, raw, qos=1, retain=True)
                said.wait_for_publish(ANSWER_S)
                is_taken = said.is_published()
            except (RuntimeError, ValueError):  # the connection broke, or it takes no more
                is_taken = False
            if not is_taken:
                raise _refused(config, f"did not take '{topic}'")
    finally:
        client.disconnect()
        client.loop_stop()


def _refused(config: BrokerConfig, why: str) -> OutsideWorldError:
    return OutsideWorldError(
        "PHO508",
        f"the broker {config.host}:{config.port} {why}",
        "check its address, user and rights",
    )
