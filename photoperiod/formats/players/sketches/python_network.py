# The time comes from a time server of the network (SNTP, RFC 4330). Nothing here waits: a question is
# sent, and its answer is looked for in each second. Between two answers the board counts itself.
import network
import socket

ASK_EVERY_S = 600
ASK_AGAIN_S = 15
LATE_MS = 2000

# Seconds since 2000-01-01 at 1900-01-01, where the time of the network begins.
SINCE_1900_S = 36524 * 86400


class NetworkTime:
    def __init__(self):
        self.net = network.WLAN(network.STA_IF)
        self.net.active(True)
        self.socket = self.server = self.token = None
        self.asked = 0
        self.now_s = None  # UTC; None until a server has answered
        self.ticks = time.ticks_ms()
        self.wait_s = 2  # the first question may wait for long: after the safe state is set

    # Take an answer, or ask; count the time that has passed.
    def look(self):
        self.wait_s -= 1
        try:
            self.take_answer()
            if self.wait_s <= 0:
                self.wait_s = ASK_AGAIN_S
                self.ask()
        except OSError:
            pass
        passed_ms = time.ticks_diff(time.ticks_ms(), self.ticks)
        self.ticks = time.ticks_add(self.ticks, passed_ms - passed_ms % 1000)
        if self.now_s is not None:
            self.now_s += passed_ms // 1000

    def ask(self):
        if not self.net.isconnected():
            self.net.connect(pins.WIFI_NAME, pins.WIFI_KEY)
            return
        if self.server is None:
            # The one call that may wait, and only before the watchdog runs: see play_forever.
            self.server = socket.getaddrinfo(pins.TIME_SERVER, 123)[0][-1]
        if self.socket is None:
            self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
            self.socket.setblocking(False)
        self.token = os.urandom(8)
        self.asked = time.ticks_ms()
        self.socket.sendto(b"\x23" + bytes(39) + self.token, self.server)

    def take_answer(self):
        if self.socket is None:
            return
        try:
            answer = self.socket.recv(48)
        except OSError:
            return  # none yet
        # An answer to this question, of a server that knows the time itself.
        if len(answer) < 48 or answer[24:32] != self.token or answer[0] & 7 != 4:
            return
        if answer[0] >> 6 == 3 or not 1 <= answer[1] <= 15:
            return
        # It was right when it was asked, or soon after. One that was long on its way is left.
        if time.ticks_diff(time.ticks_ms(), self.asked) > LATE_MS:
            return
        self.token = None
        since_1900_s = int.from_bytes(answer[40:44], "big")
        if since_1900_s < SINCE_1900_S:
            since_1900_s += 1 << 32  # the count began anew in 2036
        self.now_s = since_1900_s - SINCE_1900_S
        # The first two bytes of the fraction are 65536ths of a second.
        self.ticks = time.ticks_add(
            self.asked, -(int.from_bytes(answer[44:46], "big") * 1000 >> 16)
        )
        self.wait_s = ASK_EVERY_S


NETWORK_TIME = NetworkTime()


def read_clock():
    NETWORK_TIME.look()
    now_s = NETWORK_TIME.now_s
    if now_s is None:
        return None
    offset_s = OFFSETS[0][1]
    for begin_s, after_s in OFFSETS:
        if begin_s <= now_s:
            offset_s = after_s
    return now_s + offset_s


def set_clock(*_):
    raise OSError("the network tells the time")
