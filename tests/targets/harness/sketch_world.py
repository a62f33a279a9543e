# A world for an exported sketch in MicroPython: pins, pulses, a bus with a clock chip (DS3231 or PCF8523)
# and a converter (MCP4728 or MCP4725), a network with a time server, a watchdog, a keeper who types, and time
# that passes only while the program sleeps. Each change is a line, with the milliseconds since power-on:
#
#     MS pin NUMBER VALUE
#     MS duty NUMBER VALUE          of 65536
#     MS code ADDRESS OUTPUT CODE
#     MS text ...
#     MS chip R0 R2                 control registers of a PCF8523 whose time is set
#     MS bitten                     the watchdog was not fed in time
#     MS reset                      by the program itself
#
# Arguments: chip (ds3231, pcf8523 or network), the time at power-on in seconds since 2000-01-01 (of the
# chip on its own clock, of the network in UTC), seconds to run, then events SECOND:WHAT.
import sys

CHIP, BEGIN_S, RUN_S = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
EVENTS = [(int(word.split(":", 1)[0]), word.split(":", 1)[1]) for word in sys.argv[4:]]

SWITCH = 22  # where the keeper's stop switch is

TICKS = 1 << 30  # where ticks_ms begins anew
FIRST_TICK = TICKS - 30_000  # half a minute before that


class World:
    now_ms = 0
    fed_ms = None
    pins = {}
    codes = {}
    typed = ""
    chip_is_silent = converter_is_silent = net_is_away = has_stopped = glitch = is_over = False
    offset_s = 0  # of the chip or the server, by a jump or by what was set
    control1 = 0x80  # the load of its crystal
    control3 = 0xE0  # its battery is not used
    in_12_hours = False


W = World


class Over(Exception):
    pass


def tell(*words):
    print(W.now_ms, *words)


def pass_ms(ms):
    W.now_ms += int(ms)
    while EVENTS and W.now_ms >= 1000 * EVENTS[0][0] + 333:
        happen(EVENTS.pop(0)[1])
    if W.fed_ms is not None and W.now_ms - W.fed_ms > 8000:
        tell("bitten")
        W.fed_ms = None
    if W.now_ms >= 1000 * RUN_S and not W.is_over:
        W.is_over = True
        raise Over


def happen(what):
    if what.startswith("jump="):
        W.offset_s += int(what[5:])
    elif what.startswith("type="):
        W.typed += what[5:].replace("/", "\n")
    elif what.startswith("switch-"):
        W.pins[SWITCH] = int(what == "switch-open")
    else:
        name, value = {
            "silent": ("chip_is_silent", True),
            "answers": ("chip_is_silent", False),
            "stopped": ("has_stopped", True),
            "12-hours": ("in_12_hours", True),
            "glitch": ("glitch", True),
            "calm": ("glitch", False),
            "converter-silent": ("converter_is_silent", True),
            "converter-answers": ("converter_is_silent", False),
            "net-away": ("net_is_away", True),
            "net-back": ("net_is_away", False),
        }[what]
        setattr(W, name, value)


class Module:
    pass


# time

times = Module()
times.ticks_ms = lambda: (FIRST_TICK + W.now_ms) % TICKS
times.ticks_add = lambda ticks, more: (ticks + more) % TICKS
times.ticks_diff = lambda a, b: (a - b + TICKS // 2) % TICKS - TICKS // 2
times.sleep_ms = pass_ms


# machine


class Pin:
    IN, OUT, PULL_UP = 0, 1, 2

    def __init__(self, number, mode=0, pull=None, value=None):
        self.number = number
        if mode == Pin.OUT:
            tell("pin", number, "driven" if value is None else value)
            W.pins[number] = value
        elif pull == Pin.PULL_UP:
            assert number == SWITCH
            W.pins.setdefault(number, 1)

    def value(self, value=None):
        if value is None:
            return W.pins[self.number]
        if W.pins.get(self.number) != value:
            W.pins[self.number] = value
            tell("pin", self.number, int(value))
        return None


class PWM:
    def __init__(self, pin, freq, duty_u16):
        self.pin, self.freq, self.duty = pin, freq, None
        tell("pulses", pin.number, freq)
        self.duty_u16(duty_u16)

    def duty_u16(self, duty):
        assert 0 <= duty <= 65535
        if duty != self.duty:
            self.duty = duty
            tell("duty", self.pin.number, duty)


class WDT:
    def __init__(self, timeout):
        assert timeout <= 8388
        W.fed_ms = W.now_ms

    def feed(self):
        W.fed_ms = W.now_ms


def bcd(value):
    return value // 10 << 4 | value % 10


def of_bcd(value):
    return 10 * (value >> 4) + (value & 15)


def day_of(year, month, day):
    days = 0
    for y in range(2000, year):
        days += 366 if y % 4 == 0 else 365
    for m in range(1, month):
        days += 31 if m in (1, 3, 5, 7, 8, 10, 12) else 30 if m != 2 else 28 + (year % 4 == 0)
    return days + day - 1


def date_of(days):
    year = month = 0
    for year in range(2000, 2100):
        length = 366 if year % 4 == 0 else 365
        if days < length:
            break
        days -= length
    for month in range(1, 13):
        length = day_of(year, month + 1, 1) - day_of(year, month, 1) if month < 12 else 31
        if days < length:
            break
        days -= length
    return year, month, days + 1


def true_time():
    return BEGIN_S + W.offset_s + (W.now_ms + 250) // 1000


def chip_time():
    # A bit that was disturbed: two hours and a quarter.
    return true_time() ^ (1 << 13 if W.glitch else 0)


class SoftI2C:
    def __init__(self, scl, sda, freq, timeout):
        assert freq <= 400_000

    def registers(self):
        now_s = chip_time()
        year, month, day = date_of(now_s // 86400)
        clock = [bcd(now_s % 60), bcd(now_s // 60 % 60), bcd(now_s // 3600 % 24)]
        date = [bcd(month), bcd(year - 2000)]
        if CHIP == "pcf8523":
            clock[0] |= 0x80 if W.has_stopped else 0
            return bytes(
                [W.control1 | (8 if W.in_12_hours else 0), 0, W.control3]
                + clock
                + [bcd(day), 0]
                + date
            )
        clock[2] |= 0x40 if W.in_12_hours else 0
        date[0] |= 0x80  # the century bit, of no matter
        state = 0x88 if W.has_stopped else 0x08
        return bytes(clock + [1, bcd(day)] + date + [0] * 8 + [state])

    def readfrom_mem(self, address, register, length):
        if address != 0x68 or W.chip_is_silent:
            raise OSError(5)
        return self.registers()[register : register + length]

    def writeto_mem(self, address, register, raw):
        if address != 0x68 or W.chip_is_silent:
            raise OSError(5)
        if CHIP == "pcf8523":
            if register == 0:
                W.control1 = raw[0]
            if register == 2:
                W.control3 = raw[0]
            if register != 3:
                return
            tell("chip", f"{W.control1:02x} {W.control3:02x}")
            values = [raw[0], raw[1], raw[2], raw[3], raw[5], raw[6]]
            W.has_stopped = raw[0] & 0x80 != 0
        else:
            if register == 15:
                W.has_stopped = raw[0] & 0x80 != 0
            if register != 0:
                return
            values = [raw[0], raw[1], raw[2], raw[4], raw[5], raw[6]]
        second, minute, hour, day, month, year = [of_bcd(value & 0x7F) for value in values]
        W.in_12_hours = False
        set_s = day_of(2000 + year, month, day) * 86400 + 3600 * hour + 60 * minute + second
        W.offset_s += set_s - true_time()

    def writeto(self, address, raw):
        if W.converter_is_silent or not 0x60 <= address < 0x68:
            raise OSError(5)
        if len(raw) == 3 and raw[0] & 0xF9 == 0x40:
            output, code = raw[0] >> 1 & 3, (raw[1] & 15) << 8 | raw[2]
        elif len(raw) == 2 and raw[0] & 0xF0 == 0:
            output, code = 0, raw[0] << 8 | raw[1]
        else:
            tell("wrong", address)
            return
        if W.codes.get((address, output)) != code:
            W.codes[address, output] = code
            tell("code", f"{address:02x}", output, code)


def reset():
    tell("reset")
    W.is_over = True
    raise Over


machine = Module()
machine.Pin, machine.PWM, machine.WDT, machine.SoftI2C, machine.reset = (
    Pin,
    PWM,
    WDT,
    SoftI2C,
    reset,
)


# network and its time server (SNTP, RFC 4330): what it answers stands in no program of ours


class WLAN:
    def __init__(self, kind):
        pass

    def active(self, is_on):
        pass

    def isconnected(self):
        return not W.net_is_away

    def connect(self, name, key):
        tell("connects")


class Socket:
    def __init__(self, *_):
        self.answers = []

    def setblocking(self, blocks):
        assert not blocks

    def sendto(self, raw, server):
        if W.net_is_away:
            raise OSError(113)
        assert len(raw) == 48 and raw[0] == 0x23 and server == ("192.168.1.1", 123)
        now_s = chip_time() + 36524 * 86400  # days from 1900-01-01 to 2000-01-01
        answer = bytearray(48)
        answer[0], answer[1] = 0x24, 2
        answer[24:32] = raw[40:48]
        answer[40:44] = (now_s & 0xFFFFFFFF).to_bytes(4, "big")
        answer[44:48] = (((W.now_ms + 250) % 1000 << 32) // 1000).to_bytes(4, "big")
        if W.glitch:  # an answer to somebody else
            answer[24] ^= 1
        if W.has_stopped:  # a server that does not know the time itself
            answer[0] = 0xE4
        self.answers.append(bytes(answer))

    def recv(self, length):
        if not self.answers:
            raise OSError(11)
        return self.answers.pop(0)[:length]


network, sockets = Module(), Module()
network.WLAN, network.STA_IF = WLAN, 0
sockets.socket, sockets.AF_INET, sockets.SOCK_DGRAM = Socket, 0, 0


def getaddrinfo(name, port):
    assert W.fed_ms is None, "this may wait for long: never while the watchdog runs"
    pass_ms(12_000)
    if W.net_is_away:
        raise OSError(-2)
    return [(0, 0, 0, "", (name, port))]


sockets.getaddrinfo = getaddrinfo


# what people type


class Typed:
    def read(self, length):
        found, W.typed = W.typed[:length], W.typed[length:]
        return found


class Poll:
    def register(self, *_):
        pass

    def poll(self, ms):
        return [1] if W.typed else []


streams, selects = Module(), Module()
streams.stdin = Typed()
selects.poll, selects.POLLIN = Poll, 1


sys.modules.update(
    {
        "time": times,
        "machine": machine,
        "network": network,
        "socket": sockets,
        "select": selects,
        "sys": streams,
    }
)
sys.path.insert(0, ".")


def shown(*words):
    tell("text", *words)


try:
    with open("main.py") as file:
        exec(file.read(), {"__name__": "__main__", "print": shown})
    tell("ended")
except Over:
    pass
except Exception as error:
    tell("raised", type(error).__name__, error)
