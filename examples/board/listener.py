"""A controller that does what a player says through an MQTT broker: for MicroPython, with MQTT 5.

Its channel in the board file of the player has `output: {kind: mqtt}` and `relay: {kind: none}`: one message
holds the level and the relay, so that both keep their order. `docs/board.md` says what a listener must do:

- it keeps what it puts out while the broker is away for a short time;
- if it hears nothing for EXPIRE_S it goes to its safe state, dark unless you write otherwise;
- heard again, it lights its lamp at the floor and rises within SOFT_S. At its own start it does the same;
- heard again sooner, after a line that was broken or slow, it rises as slowly from the level that it kept.

Mains voltage beside salt water can kill: local electrical codes and licensed practice decide how this is
built. An open 0-10 V pair means full light: the relay stands in the lamp's mains, open without power.
Software off is no isolation: unplug before relamping.
"""

import json
import select
import socket
import struct
import time

# What you set.
BROKER, PORT, USER, PASSWORD = "192.168.1.10", 1883, None, None  # a number needs no name server
TOPIC = "teaching/violet/level"
EXPIRE_S = 900  # as `expire_minutes` of the player's board file
SOFT_S = 1800
TOP_CODE, FLOOR_CODE = (
    4095,
    410,
)  # of the schedule's converter: at the top, and at the ballast's floor
SAFE = (0, False)  # converter code, and whether the relay is closed

# The broker is asked after so long, and given up after twice that; an attempt to connect takes at most
# so long; a pause stands between two of them. An answer that takes longer than SLOW_S is slow. [s]
KEEP_ALIVE_S, CONNECT_S, PAUSE_S, SLOW_S = 20, 5, 5, 5
STEP_MS = 200
MOST_BYTES = 1024  # no message of a player is longer; the broker keeps longer ones back


class Follower:
    """What is put out, from what was heard. It knows no clock and no network."""

    def __init__(self, expire_s=EXPIRE_S, soft_s=SOFT_S, top=TOP_CODE, floor=FLOOR_CODE, safe=SAFE):
        self.expire_s, self.soft_s, self.top, self.floor, self.safe = (
            expire_s,
            soft_s,
            top,
            floor,
            safe,
        )
        self.wanted = None  # nothing heard, or too long ago
        self.left_ms = 0
        self.given = safe
        self.ceiling = float(floor)
        self.is_soft = self.has_missed = True

    def miss(self):
        """Note that the line is broken, or slow: what comes next may be far above what is given now."""
        self.has_missed = True

    def hear(self, text, left_s=None, is_stored=False):
        """Take the JSON of a level that is right for so long; return False if it is none.

        A level from the broker's store may be an old one: the next one may be far above it, too.
        """
        try:
            said = json.loads(text)
            code, relay = said["converter_code"], said["relay"]
        except (ValueError, KeyError, TypeError, RuntimeError):
            return False
        if type(code) is not int or not 0 <= code <= self.top or relay not in ("on", "off"):
            return False
        if self.has_missed:
            code_now, is_lit = self.given if self.wanted is not None else (0, False)
            self.is_soft, self.ceiling = True, float(max(code_now if is_lit else 0, self.floor))
            self.has_missed = is_stored
        self.wanted = (code, relay == "on")
        self.left_ms = 1000 * (self.expire_s if left_s is None else min(left_s, self.expire_s))
        return True

    def step(self, passed_ms):
        """Return the converter code and whether the relay is closed, so long after the last step."""
        self.given = self._next(passed_ms)
        return self.given

    def _next(self, passed_ms):
        self.left_ms -= passed_ms
        if self.wanted is None or self.left_ms <= 0:
            self.wanted, self.has_missed = None, True
            return self.safe
        code, is_closed = self.wanted
        if not self.is_soft:
            return self.wanted
        if not is_closed:  # from the dark the plan itself rises
            self.is_soft = False
            return self.wanted
        given = min(code, int(self.ceiling))
        self.is_soft = self.ceiling < self.top  # what was heard first may have been late, too
        self.ceiling += (self.top - self.floor) * passed_ms / (1000 * self.soft_s)
        return given, True


# MQTT 5 (OASIS Standard, 2019): the few packets that a listener needs.


def _text(words):
    raw = words.encode()
    return struct.pack(">H", len(raw)) + raw


def _packet(kind, body):
    size, length = len(body), b""
    while True:  # 1.5.5: seven bits a byte, the lowest first
        size, low = size >> 7, size & 127
        length += bytes([low | (128 if size else 0)])
        if not size:
            return bytes([kind]) + length + body


def _number(raw, at):
    """Return a number of variable length and where it ends; None if it is not whole yet."""
    value = shift = 0
    for k in range(at, min(at + 4, len(raw))):
        value |= (raw[k] & 127) << shift
        shift += 7
        if raw[k] < 128:
            return value, k + 1
    if len(raw) - at >= 4:
        raise ValueError("a length without an end")
    return None


def connect_packet(user=None, password=None):
    """Return CONNECT: no old session, and no message of more than MOST_BYTES (3.1)."""
    flags = 2 | (128 if user is not None else 0) | (64 if password is not None else 0)
    limits = b"\x27" + struct.pack(">I", MOST_BYTES)
    body = _text("MQTT") + bytes([5, flags]) + struct.pack(">H", KEEP_ALIVE_S)
    body += bytes([len(limits)]) + limits + _text("")
    for words in (user, password):
        if words is not None:
            body += _text(words)
    return _packet(0x10, body)


def subscribe_packet(topic):
    """Return SUBSCRIBE with QoS 0: a broker keeps no queue for it (3.8)."""
    return _packet(0x82, b"\x00\x01\x00" + _text(topic) + b"\x00")


PING_PACKET = b"\xc0\x00"

# Bytes of each property that a message may carry (2.2.2.2); None: two bytes say how many, twice for 38.
_PROPERTIES = {1: 1, 2: 4, 3: None, 8: None, 9: None, 35: 2, 38: None}


def message_of(kind, body):
    """Return topic, payload and the seconds that a PUBLISH is still right for; None if it doesn't say."""
    size = struct.unpack(">H", body[:2])[0]
    topic, at = bytes(body[2 : 2 + size]).decode(), 2 + size + (2 if kind & 6 else 0)
    length, at = _number(body, at)
    end, left_s = at + length, None
    while at < end:
        name, at = body[at], at + 1
        if name == 11:
            at = _number(body, at)[1]
            continue
        if name == 2:
            left_s = struct.unpack(">I", body[at : at + 4])[0]
        for _ in range(2 if name == 38 else 1):
            size = _PROPERTIES[name]
            at += 2 + struct.unpack(">H", body[at : at + 2])[0] if size is None else size
    return topic, bytes(body[end:]), left_s


def packets(buffer):
    """Take the packets that are whole out of a bytearray; yield the first byte and the body of each."""
    while len(buffer) >= 2:
        length = _number(buffer, 1)
        if length is None:
            return
        size, at = length
        if size > MOST_BYTES:
            raise ValueError("a packet that is too long")
        if len(buffer) < at + size:
            return
        kind, body = buffer[0], bytes(buffer[at : at + size])
        buffer[:] = buffer[at + size :]
        yield kind, body


class Line:
    """A connection to the broker. Every method raises OSError or ValueError when it is broken."""

    def __init__(self, host, port, topic, user=None, password=None):
        self.topic = topic
        self.buffer = bytearray()
        self.silent_ms, self.has_asked, self.is_open = 0, False, False
        self.socket = socket.socket()
        try:
            self.socket.settimeout(CONNECT_S)
            self.socket.connect(socket.getaddrinfo(host, port)[0][-1])
            self.socket.settimeout(CONNECT_S)
            self.send(connect_packet(user, password))
            self.poll = select.poll()
            self.poll.register(self.socket, select.POLLIN)
        except (OSError, ValueError):
            self.socket.close()
            raise

    def send(self, raw):
        """Send all of it."""
        while raw:
            raw = raw[self.socket.send(raw) :]

    def heard(self, wait_ms):
        """Wait so long, and return the messages that came: text, seconds left, whether from the store."""
        found = []
        if self.poll.poll(wait_ms):
            raw = self.socket.recv(512)
            if not raw:
                raise OSError("the broker has ended the connection")
            self.buffer.extend(raw)
            self.silent_ms, self.has_asked = 0, False
            for kind, body in packets(self.buffer):
                self._take(kind, body, found)
        return found

    def _take(self, kind, body, found):
        if kind == 0x20:
            if body[1] >= 128:
                raise OSError(f"the broker refuses: reason {body[1]}")
            self.is_open = True
            self.send(subscribe_packet(self.topic))
        elif kind & 0xF0 == 0x30:
            topic, payload, left_s = message_of(kind, body)
            if topic == self.topic:
                found.append((payload, left_s, bool(kind & 1)))  # retain: from the store (3.3.1.3)
        elif kind == 0xE0:
            raise OSError("the broker ends the connection")

    def keep_alive(self, passed_ms):
        """Ask for a sign of life when there was none, and give up when that brings none."""
        self.silent_ms += passed_ms
        if self.silent_ms >= 2000 * KEEP_ALIVE_S:
            raise OSError("the broker does not answer")
        if self.silent_ms >= 1000 * KEEP_ALIVE_S and self.is_open and not self.has_asked:
            self.has_asked = True
            self.send(PING_PACKET)

    @property
    def is_slow(self):
        """Return True if the answer to what was asked takes long."""
        return self.silent_ms >= 1000 * (KEEP_ALIVE_S + SLOW_S)

    def close(self):
        """Close it."""
        self.socket.close()


def _ticks_ms():
    return time.ticks_ms() if hasattr(time, "ticks_ms") else int(time.monotonic() * 1000)


def _since(before_ms, now_ms):
    return time.ticks_diff(now_ms, before_ms) if hasattr(time, "ticks_diff") else now_ms - before_ms


def run(lamp, follower, host=BROKER, port=PORT, topic=TOPIC, user=USER, password=PASSWORD):
    """Follow the player for ever. `lamp.write(code, is_closed)` is called at each step."""
    line, pause_ms, before_ms = None, 0, _ticks_ms()
    while True:
        now_ms = _ticks_ms()
        passed_ms, before_ms = _since(before_ms, now_ms), now_ms
        lamp.write(*follower.step(passed_ms))
        try:
            if line is None:
                pause_ms -= passed_ms
                if pause_ms > 0:
                    time.sleep(STEP_MS / 1000)
                    continue
                pause_ms = 1000 * PAUSE_S
                line = Line(host, port, topic, user, password)
            line.keep_alive(passed_ms)
            if line.is_slow:
                follower.miss()
            for text, left_s, is_stored in line.heard(STEP_MS):
                follower.hear(text, left_s, is_stored)
        except (OSError, ValueError, IndexError, KeyError, TypeError) as error:
            print("the line is broken:", error)
            follower.miss()
            if line is not None:
                line.close()
            line = None


class Lamp:
    """A PWM pin with a filter and an amplifier behind it, and a relay: of an ESP32 or an RP2040."""

    def __init__(self, level_pin, relay_pin, hertz=15625):
        from machine import PWM, WDT, Pin

        self.relay = Pin(relay_pin, Pin.OUT, value=0)  # first of all: open
        self.level = PWM(Pin(level_pin), freq=hertz, duty_u16=0)
        self.watchdog = WDT(timeout=8000)  # a controller that hangs starts again, dark
        self.is_closed = False

    def write(self, code, is_closed):
        """Open the relay before the level changes, and close it after that."""
        if not is_closed:
            self.relay.value(0)
        self.level.duty_u16(code * 65535 // TOP_CODE)
        if is_closed:
            self.relay.value(1)
        self.watchdog.feed()


if __name__ == "__main__":
    run(Lamp(level_pin=15, relay_pin=14), Follower())
