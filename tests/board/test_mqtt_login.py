"""The client of a broker: its library, its password, its certificates."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from photoperiod.board.config import BrokerConfig
from photoperiod.board.mqtt import PahoBroker
from photoperiod.errors import OutsideWorldError


def test_without_the_library_the_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "paho.mqtt.client", None)
    with pytest.raises(OutsideWorldError, match="not installed") as caught:
        PahoBroker(BrokerConfig(host="127.0.0.1", topic="bench"))
    assert caught.value.code == "PHO508" and "photoperiod[mqtt]" in caught.value.help


def test_a_password_that_cannot_be_read(tmp_path: Path) -> None:
    plan = BrokerConfig(host="127.0.0.1", topic="t", username="u", password_file=tmp_path / "none")
    with pytest.raises(OutsideWorldError, match=f"'{tmp_path / 'none'}': no such file") as caught:
        PahoBroker(plan)
    assert caught.value.code == "PHO508"


def test_certificates_that_are_none_are_named(tmp_path: Path) -> None:
    path = tmp_path / "ca.pem"
    path.write_text("no certificate\n")
    with pytest.raises(
        OutsideWorldError, match=f"can't log in to the broker: '{path}': "
    ) as caught:
        PahoBroker(BrokerConfig(host="127.0.0.1", topic="t", ca_file=path))
    assert caught.value.code == "PHO508"


def test_a_password_needs_a_user(tmp_path: Path) -> None:
    path = tmp_path / "password"
    path.write_text("secret\n")
    plan = BrokerConfig(host="127.0.0.1", topic="t", password_file=path)
    with pytest.raises(OutsideWorldError, match="there is a password, and no user name") as caught:
        PahoBroker(plan)
    assert caught.value.code == "PHO508"
