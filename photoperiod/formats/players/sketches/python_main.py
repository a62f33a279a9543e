# Our choices. A reading of the clock that fails is bridged for so long, then the safe state applies.
BRIDGED_S = 10
# If the clock was set by more than this, lamps rise softly.
LEAP_S = 300
# A converter that does not answer for so long has its relay opened: nobody knows its volts.
LOST_S = 10
# Longer than one round of the loop. The table is checked before the watchdog begins.
WATCHDOG_MS = 8000

# If this file is there, lamps stay off at the next start, without a watchdog, so that files can be
# copied. The word `update` makes it.
UPDATE_FILE = "photoperiod_update"


class Clock:
    # One reading alone is never believed: it must be a second after the one before. So a bit that was
    # disturbed on the bus moves no lamp.
    def __init__(self):
        self.now_s = self.doubted_s = None
        self.unconfirmed_s = 0

    # Look at the clock; True if it was set by a leap.
    def look(self):
        found = None
        for _ in range(3):
            try:
                found = read_clock()
                break
            except OSError:
                pass  # the chip did not answer
        expected_s = None if self.now_s is None else self.now_s + 1
        if found is not None:
            if self.now_s is not None and 0 <= found - self.now_s <= 2:
                self.now_s, self.doubted_s, self.unconfirmed_s = found, None, 0
                return False
            if self.doubted_s is not None and 0 <= found - self.doubted_s <= 2:
                is_leap = expected_s is not None and abs(found - expected_s) > LEAP_S
                self.now_s, self.doubted_s, self.unconfirmed_s = found, None, 0
                return is_leap
        self.doubted_s = found
        self.unconfirmed_s += 1
        self.now_s = expected_s if self.unconfirmed_s <= BRIDGED_S else None
        return False


class Lamps:
    def __init__(self):
        self.closed = {name: False for name in CHANNELS}
        self.lost_s = {name: 0 for name in CHANNELS}

    def open(self, name):
        if name in RELAYS:
            RELAYS[name].value(OPEN)
        self.closed[name] = False

    # Relays open before their converter changes, and close after it. Returns whether a converter does
    # not answer, and whether one answers again whose relay was opened: that closes a second later.
    def give(self, outputs):
        named = list(zip(CHANNELS, outputs))
        is_lost = is_back = will_close = has_opened = False
        for name, (_, _, relay) in named:
            if not relay:
                has_opened = has_opened or self.closed[name]
                self.open(name)
        if has_opened:
            time.sleep_ms(pins.RELAY_MS)
        for name, (_, code, relay) in named:
            try:
                set_level(name, code)
            except OSError:
                is_lost = True
                self.lost_s[name] += 1
                if self.lost_s[name] > LOST_S:
                    self.open(name)
                continue
            if self.lost_s[name] > LOST_S:
                is_back = True
            elif relay and not self.closed[name]:
                will_close = True
            self.lost_s[name] = 0
        if will_close and not is_back:
            time.sleep_ms(pins.LEVEL_MS)
            for name, (_, _, relay) in named:
                if relay and not self.lost_s[name]:
                    if name in RELAYS:
                        RELAYS[name].value(CLOSED)
                    self.closed[name] = True
        return is_lost, is_back

    def dark(self):
        for name in CHANNELS:
            self.open(name)
        time.sleep_ms(pins.RELAY_MS)
        for name in CHANNELS:
            try:
                set_level(name, 0)
            except OSError:
                pass


class Talk:
    # What people read and type. Nothing here waits.
    def __init__(self):
        self.told = None
        self.line = ""
        self.typed = select.poll()
        self.typed.register(sys.stdin, select.POLLIN)

    def tell(self, clock, status, is_lost, outputs, lamps):
        now_s = clock.now_s
        state = status, is_lost, now_s is None
        if state == self.told and (now_s is None or now_s % 600):
            return
        self.told = state
        if now_s is None:
            words = ["no clock;"]
        elif clock.unconfirmed_s:
            words = ["clock not confirmed since", now_text(now_s - clock.unconfirmed_s)]
        else:
            words = [now_text(now_s)]
        words += [word for bit, word in STATUS_WORDS if status & bit]
        for name, (_, code, _) in zip(CHANNELS, outputs):
            words += [name, str(code), "on" if lamps.closed[name] else "off"]
            if lamps.lost_s[name]:
                words.append("(its converter does not answer)")
        print(" ".join(words))

    def listen(self):
        while self.typed.poll(0):
            character = sys.stdin.read(1)
            if not character:
                return
            if character in "\r\n":
                line, self.line = self.line.strip(), ""
                if line:
                    obey(line)
            elif len(self.line) < 40:
                self.line += character


STATUS_WORDS = (1, "safe"), (2, "early"), (4, "expired"), (8, "soft")


def now_text(now_s):
    year, month, day, hour, minute, second = date_of(now_s)
    return "%04d-%02d-%02d %02d:%02d:%02d" % (year, month, day, hour, minute, second)


# Year, month, day, hour, minute, second of seconds since 2000-01-01.
def date_of(now_s):
    day, second = now_s // 86400, now_s % 86400
    year = 2000 + day // 366
    while day_of(year + 1, 1, 1) <= day:
        year += 1
    month = 1
    while month < 12 and day_of(year, month + 1, 1) <= day:
        month += 1
    return (
        year,
        month,
        day - day_of(year, month, 1) + 1,
        second // 3600,
        second // 60 % 60,
        second % 60,
    )


def obey(line):
    if line == "update":
        with open(UPDATE_FILE, "w") as file:
            file.write("lamps off\n")
        reset()
    try:
        command, date, clock = line.split()
        digits = [int(part, 16) for part in clock.split(":")[::-1] + date.split("-")[::-1]]
        if command != "set" or len(digits) != 6 or not 0x2000 <= digits[5] <= 0x2099:
            raise ValueError
        digits[5] &= 255
        if time_of(digits) is None:
            raise ValueError
        set_clock(*digits)
    except (ValueError, OSError):
        print("not set; write: set 2027-03-02 12:00:00")
    else:
        print("the clock is set")


def is_stopped(switch):
    return switch is not None and switch.value() == 1  # open, or its wire broken


# The light: lit while tables are played, blinking in the safe state, short gaps for an alarm.
def show(led, beat, status, is_lost):
    if led is not None:
        led.value(beat & 1 if status & 1 else beat & 3 > 0 if is_lost or status & 6 else 1)


def must_update():
    try:
        os.remove(UPDATE_FILE)
    except OSError:
        return False
    return True


def play_forever(play):
    clock, lamps, talk = Clock(), Lamps(), Talk()
    led = None if pins.ALARM_LED is None else Pin(pins.ALARM_LED, Pin.OUT)
    switch = None if pins.STOP_SWITCH is None else Pin(pins.STOP_SWITCH, Pin.IN, Pin.PULL_UP)
    watchdog, since_start_s, beat = None, 0, 0
    second_ms = time.ticks_ms()
    try:
        while True:
            if clock.look():
                since_start_s = 0
            now_s = clock.now_s
            if watchdog is None and (now_s is not None or not CLOCK_MAY_WAIT):
                watchdog = WDT(timeout=WATCHDOG_MS)
            day, second = (0, 0) if now_s is None else (now_s // 86400, now_s % 86400)
            status, outputs = play(
                day, second, now_s is not None, is_stopped(switch), since_start_s
            )
            is_lost, is_back = lamps.give(outputs)
            beat += 1
            show(led, beat, status, is_lost)
            talk.tell(clock, status, is_lost, outputs, lamps)
            since_start_s = 0 if status & SAFE or is_back else since_start_s + 1
            if watchdog is not None:
                watchdog.feed()
            second_ms = time.ticks_add(second_ms, 1000)
            if time.ticks_diff(time.ticks_ms(), second_ms) > 1000:
                second_ms = time.ticks_ms()  # no round is made up for
            while time.ticks_diff(second_ms, time.ticks_ms()) > 0:
                talk.listen()
                time.sleep_ms(20)
    finally:
        lamps.dark()


def refuse_wrong_pins():
    for name in CHANNELS:
        if name not in pins.LEVELS or (HAS_RELAYS and name not in pins.RELAYS):
            raise ValueError("pins.py does not say level and relay of '%s'" % name)
    for used in (pins.RELAYS, pins.LEVELS):
        if len(set(used.values())) < len(used):
            raise ValueError("pins.py: two channels have one pin")


def main():
    refuse_wrong_pins()
    Lamps().dark()
    if must_update():
        print("lamps off, no watchdog: copy your files, then start the board again")
        return
    play_forever(load())


if __name__ == "__main__":
    main()
