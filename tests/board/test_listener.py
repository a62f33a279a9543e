"""The example of a listener: what it puts out, and that it does so on MicroPython with a real broker."""

from __future__ import annotations

import contextlib
import importlib.util
import json
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any
from unittest.mock import Mock

import pytest
from hypothesis import given
from hypothesis import strategies as st

from photoperiod.board.config import BrokerConfig
from photoperiod.board.mqtt import PahoBroker
from tests.board.mosquitto import Mosquitto, running_broker
from tests.board.process import until
from tests.conftest import ROOT
from tests.targets.tools import tool

EXAMPLES = ROOT / "examples" / "board"
HARNESS = Path(__file__).parent / "harness" / "listen.py"


def _example() -> ModuleType:
    spec = importlib.util.spec_from_file_location("listener", EXAMPLES / "listener.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


listener = _example()

DARK = (0, False)


def level(code: object, relay: str = "on") -> str:
    return json.dumps({"count": 50, "converter_code": code, "volts": 5.0, "relay": relay})


# ---- what is put out


def test_it_begins_dark_and_rises_from_the_floor_within_the_soft_start() -> None:
    # From 410 to 4095 in 1000 s: 3.685 codes a second.
    follower = listener.Follower(expire_s=900, soft_s=1000, top=4095, floor=410)
    assert follower.step(60_000) == DARK
    assert follower.hear(level(2000))
    assert follower.step(0) == (410, True)
    assert follower.step(100_000) == (410, True)
    assert follower.step(0) == (410 + 368, True)
    assert follower.hear(level(2000))  # renewed
    seconds = 100
    while follower.step(1000)[0] < 2000:
        seconds += 1
        assert follower.hear(level(2000))
    assert seconds == pytest.approx((2000 - 410) / 3.685, abs=2)
    assert follower.hear(level(3000))
    assert follower.step(200)[0] < 2020  # what was heard first may have been an old level
    for _ in range(1000 - seconds):
        follower.step(1000)
        assert follower.hear(level(3000))
    assert follower.hear(level(4095))
    assert follower.step(200) == (4095, True)  # after a whole soft start it follows


def test_it_keeps_its_level_until_nothing_was_heard_for_long() -> None:
    follower = listener.Follower(expire_s=900, soft_s=0.001)
    follower.hear(level(2000))
    follower.step(0)
    follower.step(1000)
    assert follower.step(898_000) == (2000, True)
    assert follower.step(1000) == DARK
    assert follower.step(10**12) == DARK  # for ever
    assert follower.hear(level(2000))
    assert follower.step(0) == (410, True)  # softly


def test_a_message_counts_for_the_time_that_it_has_left_and_never_for_longer() -> None:
    follower = listener.Follower(expire_s=900, soft_s=0.001)
    follower.hear(level(2000), 60)
    assert follower.step(59_000) != DARK
    assert follower.step(1000) == DARK
    follower.hear(level(2000), 2**32 - 1)
    assert follower.step(899_000) != DARK
    assert follower.step(1000) == DARK


def test_after_a_line_that_was_lost_it_rises_softly_from_the_level_that_it_kept() -> None:
    # From 410 to 4095 in 1000 s: 3.685 codes a second.
    follower = listener.Follower(expire_s=900, soft_s=1000, top=4095, floor=410)
    follower.hear(level(0, "off"))
    follower.step(0)
    follower.hear(level(1000))
    assert follower.step(1000) == (1000, True)  # it follows
    follower.miss()
    assert follower.step(600_000) == (1000, True)
    assert follower.hear(level(3000))
    assert follower.step(200) == (1000, True)
    assert follower.step(100_000) == (1000, True)
    assert follower.step(0) == (1000 + 369, True)  # 100.2 s
    assert follower.hear(level(1200))
    assert follower.step(0) == (1200, True)  # down at once
    assert follower.hear(level(3000))
    # The first level may have come late, from before the line was slow: the next one comes softly, too.
    assert follower.step(0) == (1000 + 369, True)
    assert follower.step(442_000) == (1000 + 369, True)
    assert follower.step(0) == (2998, True)  # 542.2 s, as if it had never been told less
    follower.step(300_000)
    assert follower.step(0) == (3000, True)
    assert follower.hear(level(4095))
    assert follower.step(0) == (4095, True)  # a soft start would be at the top, and is over


def test_a_level_from_the_store_may_be_an_old_one() -> None:
    """The next one may be far above it, as that of a player whose broker was killed."""
    follower = listener.Follower(expire_s=900, soft_s=1000, top=4095, floor=410)
    assert follower.hear(level(410), 800, True)
    assert follower.step(0) == (410, True)
    assert follower.hear(level(3000))
    assert follower.step(0) == (410, True)
    assert follower.step(100_000) == (410, True)
    assert follower.step(0) == (410 + 368, True)
    # The same for a lamp that the store calls dark.
    follower = listener.Follower(expire_s=900, soft_s=1000, top=4095, floor=410)
    follower.hear(level(0, "off"), 800, True)
    assert follower.step(0) == DARK
    follower.hear(level(3000))
    assert follower.step(0) == (410, True)


def test_a_lamp_that_is_told_to_be_dark_is_dark_at_once_and_then_follows_the_plan() -> None:
    follower = listener.Follower(expire_s=900, soft_s=1000)
    follower.hear(level(0, "off"))
    assert follower.step(0) == DARK
    follower.hear(level(900))
    assert follower.step(0) == (900, True)
    follower.hear(level(0, "off"))
    assert follower.step(0) == DARK


def test_another_safe_state_is_put_out_as_it_is_written() -> None:
    follower = listener.Follower(safe=(500, True))
    assert follower.step(0) == (500, True)


@pytest.mark.parametrize(
    "text",
    [
        "", "null", "[]", "7", "{", "[" * 1000, '{"relay": "on"}', level(-1), level(4096), level(1.5),
        level(True), level("7"), level(None), level(7, "open"), b"\xff\xfe",
    ],
)  # fmt: skip
def test_what_is_no_level_is_ignored_and_prolongs_nothing(text: str | bytes) -> None:
    follower = listener.Follower(expire_s=10, soft_s=0.001)
    assert not follower.hear(text)
    assert follower.step(0) == DARK
    follower.hear(level(2000))
    follower.step(5000)
    assert not follower.hear(text)
    assert follower.step(4000) != DARK
    assert follower.step(1000) == DARK


# ---- packets of MQTT 5


def publish(topic: str, payload: bytes, properties: bytes, packet_id: bytes = b"") -> bytes:
    raw = topic.encode()
    body = len(raw).to_bytes(2, "big") + raw + packet_id
    body += bytes([len(properties)]) + properties + payload
    return (
        bytes([0x33 if packet_id else 0x31])
        + bytes([len(body) % 128 + 128, len(body) // 128])
        + body
    )


#: Each property that a PUBLISH may carry, once (OASIS MQTT 5.0, table 2-4), around the expiry of 600 s.
PROPERTIES = bytes.fromhex(
    "01 01" "03 0004 74657874" "08 0001 61" "09 0002 0001" "0b 8001" "23 0007" "26 0001 61 0002 6263"
    "02 00000258" "26 0000 0000"
)  # fmt: skip


def test_a_message_is_read_whatever_properties_it_has() -> None:
    packet = publish("bench/blue/level", b"{}", PROPERTIES)
    ((kind, body),) = listener.packets(bytearray(packet))
    assert listener.message_of(kind, body) == ("bench/blue/level", b"{}", 600)
    packet = publish("t", b"x", b"", packet_id=b"\x00\x07")
    ((kind, body),) = listener.packets(bytearray(packet))
    assert listener.message_of(kind, body) == ("t", b"x", None)


@given(st.lists(st.integers(1, 40), min_size=1), st.integers(0, 500))
def test_packets_come_out_whole_however_they_are_cut(cuts: list[int], size: int) -> None:
    packet = publish("t", b"x" * size, b"\x02\x00\x00\x00\x05") + b"\xd0\x00"
    buffer, found, at = bytearray(), [], 0
    while at < len(packet):
        step = cuts[at % len(cuts)]
        buffer.extend(packet[at : at + step])
        found += list(listener.packets(buffer))
        at += step
    assert [kind for kind, _ in found] == [0x31, 0xD0]
    assert listener.message_of(*found[0]) == ("t", b"x" * size, 5)


@pytest.mark.parametrize("raw", ["30ffffff7f", "30ffffffff01", "3081 10"])
def test_a_packet_that_is_too_long_breaks_the_line(raw: str) -> None:
    with pytest.raises(ValueError, match=r"packet|length"):
        list(listener.packets(bytearray.fromhex(raw)))


class FakeSocket:
    def __init__(self) -> None:
        self.sent: list[bytes] = []
        self.is_closed = False

    def settimeout(self, seconds: float) -> None:
        """Do nothing: it never waits."""

    def connect(self, address: object) -> None:
        """Do nothing: it is connected."""

    def send(self, raw: bytes) -> int:
        self.sent.append(raw[:7])  # as much as a busy line takes at once
        return len(raw[:7])

    def close(self) -> None:
        self.is_closed = True


@pytest.fixture
def far_end(monkeypatch: pytest.MonkeyPatch) -> FakeSocket:
    made = FakeSocket()
    monkeypatch.setattr(listener.socket, "socket", lambda: made)
    monkeypatch.setattr(listener.select, "poll", lambda: Mock())
    return made


def test_a_line_that_is_silent_is_asked_and_then_given_up(far_end: FakeSocket) -> None:
    line = listener.Line("127.0.0.1", 1883, "bench/blue/level")
    assert b"".join(far_end.sent) == listener.connect_packet()
    line._take(0x20, b"\x00\x00\x00", [])
    far_end.sent.clear()
    line.keep_alive(19_999)
    assert far_end.sent == []
    line.keep_alive(1)
    line.keep_alive(10_000)
    assert far_end.sent == [b"\xc0\x00"]  # PINGREQ (3.12), once
    with pytest.raises(OSError, match="does not answer"):
        line.keep_alive(10_000)


def test_a_line_that_answers_late_is_slow(far_end: FakeSocket) -> None:
    line = listener.Line("127.0.0.1", 1883, "bench/blue/level")
    line._take(0x20, b"\x00\x00\x00", [])
    line.keep_alive(20_000)  # it asks now
    assert not line.is_slow
    line.keep_alive(4_999)
    assert not line.is_slow
    line.keep_alive(1)
    assert line.is_slow


@pytest.mark.parametrize("is_slow", [True, False])
def test_after_a_slow_line_it_rises_softly(is_slow: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    line, lamp = Mock(is_slow=is_slow), Mock()
    line.heard.side_effect = [[(level(3000), None, False)], SystemExit]
    monkeypatch.setattr(listener, "Line", lambda *_: line)
    follower = listener.Follower()
    follower.hear(level(0, "off"))
    follower.step(0)
    follower.hear(level(1000))
    with pytest.raises(SystemExit):
        listener.run(lamp, follower)
    codes = [call.args[0] for call in lamp.write.call_args_list]
    assert codes == ([1000, 1000] if is_slow else [1000, 3000])


def test_what_comes_from_the_store_is_told_from_what_is_said_now(far_end: FakeSocket) -> None:
    """The retain flag is the lowest bit of the first byte (3.3.1.3)."""
    line, found = listener.Line("127.0.0.1", 1883, "t"), []
    for first in (0x31, 0x30):
        line._take(first, publish("t", b"{}", b"")[3:], found)
    assert found == [(b"{}", None, True), (b"{}", None, False)]


def test_a_broker_that_refuses_breaks_the_line(far_end: FakeSocket) -> None:
    line = listener.Line("127.0.0.1", 1883, "bench/blue/level", "user", "secret")
    assert b"\x00\x04user\x00\x06secret" in b"".join(far_end.sent)
    with pytest.raises(OSError, match="reason 135"):  # not authorized (2.4)
        line._take(0x20, b"\x00\x87\x00", [])


# ---- with a broker


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Mosquitto]:
    with running_broker(tmp_path) as made:
        yield made


class Run:
    """The example on MicroPython, and what its lamp got."""

    def __init__(self, port: int, expire_s: float, soft_s: float, *login: str) -> None:
        words = (tool("micropython"), HARNESS, EXAMPLES, port, expire_s, soft_s, *login)
        self.process = subprocess.Popen(
            [str(word) for word in words], stdout=subprocess.PIPE, text=True
        )
        self.lines: list[str] = []
        self.reader = threading.Thread(target=self._read, daemon=True)
        self.reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.append(line.strip())

    @property
    def given(self) -> list[tuple[int, str]]:
        """What the lamp got, each value once."""
        found = (line.split() for line in self.lines if line[0].isdigit())
        return [(int(code), relay) for code, relay in found]


@contextlib.contextmanager
def listening(
    port: int, expire_s: float = 60, soft_s: float = 1, login: tuple[str, ...] = ()
) -> Iterator[Run]:
    made = Run(port, expire_s, soft_s, *login)
    try:
        yield made
    finally:
        made.process.kill()
        made.reader.join(10)
        made.process.communicate()


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("photoperiod.board.mqtt.BACKOFF_S", (0.05, 0.1))


@contextlib.contextmanager
def telling(port: int, expire_s: int = 60, **login: Any) -> Iterator[Callable[..., None]]:
    """Give a function that tells a lamp something as a player does; its connection ends with the block."""
    link = PahoBroker(
        BrokerConfig(host="127.0.0.1", port=port, topic="bench", expire_s=expire_s, **login)
    )

    def tell(code: int, relay: str = "on") -> None:
        until(lambda: link.is_connected, "the connection")
        link.publish("bench/blue/level", level(code, relay))
        until(lambda: link.is_taken("bench/blue/level"), "the answer")

    try:
        yield tell
    finally:
        link.close()


def test_on_micropython_it_follows_a_player_through_a_broker(broker: Mosquitto) -> None:
    with telling(broker.port) as tell, listening(broker.port) as lamp:
        tell(2000)
        until(lambda: lamp.given[-1:] == [(2000, "on")], "the level")
        codes = [code for code, _ in lamp.given]
        assert lamp.given[0] == (0, "off") and codes[1] == 410 and codes == sorted(codes)
        assert len(codes) > 10  # it rose softly
        tell(2100)
        until(lambda: lamp.given[-1] == (2100, "on"), "a level that it hears at once")
        codes = lamp.given[:]
        # A broker that starts again within the life of a message: the lamp sees nothing of it.
        broker.stop()
        until(lambda: any("broken" in line for line in lamp.lines), "the loss")
        broker.start()
        tell(3000)
        until(lambda: lamp.given[-1] == (3000, "on"), "the next level")
        later = lamp.given[len(codes) :]
        assert later == sorted(later) and {relay for _, relay in later} == {"on"}
        assert 2100 < later[0][0] < 2500 and len(later) > 5  # it rose softly from where it was


def test_on_micropython_it_goes_dark_when_the_player_is_gone(broker: Mosquitto) -> None:
    with listening(broker.port, soft_s=0.001) as lamp:
        with telling(broker.port, expire_s=1) as tell:

            def hears() -> bool:
                # Again and again, as a player does: on a busy machine a message may come too late.
                tell(2000)
                return (2000, "on") in lamp.given

            until(hears, "the level")
        # The last message ends, long before the listener's own minute.
        until(lambda: lamp.given[-1] == (0, "off"), "the safe state")
    # One that starts now finds nothing; told again, its lamp rises from the floor.
    with telling(broker.port) as tell, listening(broker.port, soft_s=0.1) as late:
        until(lambda: late.given, "its first output")
        time.sleep(0.5)
        assert late.given == [(0, "off")]
        tell(2000)
        until(lambda: late.given[-1] == (2000, "on"), "the level")
        assert late.given[:2] == [(0, "off"), (410, "on")]
        tell(0, "off")
        until(lambda: late.given[-1] == (0, "off"), "the dark")


def test_on_micropython_it_tries_again_until_a_broker_is_there(broker: Mosquitto) -> None:
    broker.stop()
    with listening(broker.port) as lamp:
        until(lambda: len(lamp.lines) > 2, "two attempts")
        broker.start()
        with telling(broker.port) as tell:
            tell(410)
            until(lambda: lamp.given[-1] == (410, "on"), "the level")


def test_player_and_listener_log_in_with_a_password(broker: Mosquitto, tmp_path: Path) -> None:
    users, password = tmp_path / "users", tmp_path / "password"
    password.write_text("coral\nonly the first line counts\n", encoding="utf-8")
    broker.stop()
    subprocess.run(["mosquitto_passwd", "-b", "-c", users, "reef", "coral"], check=True)
    users.chmod(0o600)
    broker.config.write_text(
        f"listener {broker.port} 127.0.0.1\nallow_anonymous false\nuser root\npassword_file {users}\n"
    )
    broker.start()
    with (
        telling(broker.port, username="reef", password_file=password) as tell,
        listening(broker.port, login=("reef", "coral")) as lamp,
        listening(broker.port, login=("reef", "sand")) as stranger,
    ):
        tell(410)
        until(lambda: lamp.given[-1:] == [(410, "on")], "the level")
        until(lambda: any("reason 135" in line for line in stranger.lines), "the refusal")
        assert stranger.given == [(0, "off")]
