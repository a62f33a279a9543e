"""Publish tables: each as one retained message, which a player receives whenever it connects."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import Any

from photoperiod.board.config import BrokerConfig
from photoperiod.board.mqtt_login import MAX_TABLE_BYTES, connect, login
from photoperiod.errors import OutsideWorldError, os_reason

#: How long the broker may take to answer, and to take a message [s]. Our choice.
ANSWER_S = 10.0

#: After so long without a message, each side takes the connection for broken. [s]
KEEP_ALIVE_S = 60


def publish(config: BrokerConfig, tables: Mapping[str, bytes]) -> None:
    """Publish tables by topic, retained and with quality of service 1; wait until all are taken.

    Raises
    ------
    OutsideWorldError
        PHO505 if a table is larger than `MAX_TABLE_BYTES`: then none is sent. PHO508 if the broker
        cannot be reached, refuses, or does not take them.
    """
    for topic, raw in tables.items():
        check_size(topic, raw)
    client, answers = login(config), []
    refused: dict[int, str] = {}

    def on_connect(_client: Any, _data: Any, _flags: Any, reason: Any, _more: Any) -> None:
        answers.append(reason)

    def on_answer(_client: Any, _data: Any, number: int, reason: Any, _more: Any) -> None:
        if reason.is_failure:
            refused[number] = str(reason).lower()

    client.on_connect, client.on_publish = on_connect, on_answer
    try:
        connect(client, config, KEEP_ALIVE_S)
    except (OSError, ValueError) as error:
        raise _refused(config, f"can't be reached: {os_reason(error)}") from error
    client.loop_start()
    try:
        until = time.monotonic() + ANSWER_S
        while not answers and time.monotonic() < until:
            time.sleep(0.01)
        if not answers or answers[0].is_failure:
            why = f"refuses: {str(answers[0]).lower()}" if answers else "does not answer"
            raise _refused(config, why)
        for topic, raw in tables.items():
            try:
                said = client.publish(topic, raw, qos=1, retain=True)
                said.wait_for_publish(ANSWER_S)
                is_taken = said.is_published()
            except (RuntimeError, ValueError):  # the connection broke, or it takes no more
                is_taken = False
            if not is_taken:
                raise _refused(config, f"did not take '{topic}'")
            if said.mid in refused:
                raise _refused(config, f"did not take '{topic}': {refused[said.mid]}")
    finally:
        client.disconnect()
        client.loop_stop()


def check_size(name: str, raw: bytes) -> None:
    """Raise PHO505 if a table is too large for a broker."""
    if len(raw) > MAX_TABLE_BYTES:
        raise OutsideWorldError(
            "PHO505",
            f"'{name}' is larger than {MAX_TABLE_BYTES:,} bytes, the most that players take from a broker",
            "export it as binary, or for fewer dates",
        )


def _refused(config: BrokerConfig, why: str) -> OutsideWorldError:
    return OutsideWorldError(
        "PHO508",
        f"the broker {config.host}:{config.port} {why}",
        "check its address, user and rights",
    )
