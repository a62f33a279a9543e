# The photoperiod player for MicroPython, after docs/player.md. It runs in CPython, too.
# It is lean on purpose: small boards compile it, and hold it, in a few kilobytes of heap.

from struct import unpack_from

SAFE, EARLY, EXPIRED, SOFT = 1, 2, 4, 8


# Whether bytes begin as an image does, have its length, and its checksum fits.
# The sum is made in two halves, for numbers of 32 bits would each be put on the heap.
def is_whole(b):
    end = len(b) - 4
    if end < 72 or b[:5] != b"PHTP\1" or unpack_from("<I", b, 36)[0] != end + 4:
        return False
    low = high = 65535
    for at in range(end):
        low ^= b[at]
        for _ in range(8):
            odd = low & 1
            low = low >> 1 | (high & 1) << 15
            high >>= 1
            if odd:
                low ^= 0x8320
                high ^= 0xEDB8
    return unpack_from("<HH", b, end) == (low ^ 65535, high ^ 65535)


# A row: second, count, relay.
def _row(b, at):
    low, high, count = unpack_from("<HBH", b, at)
    return low | (high & 1) << 16, count, high > 1


# Count and relay of a set of rows, rows at a place, before the rules of the output.
def _level(b, at, rows, now):
    begun = 0
    while begun < rows and _row(b, at + 5 * begun)[0] <= now:
        begun += 1
    edge = begun in (0, rows)
    begin, count, relay = _row(b, at + 5 * ((begun or (1 if b[5] & 2 else rows)) - 1))
    end, after, _ = _row(b, at if edge else at + 5 * begun)
    if after == count or b[5] & 1 or (edge and b[5] & 2):
        return count, relay
    length = end - begin
    if length <= 0:
        length += 86400
    now -= begin
    if now < 0:
        now += 86400
    product = abs(after - count) * now
    if b[7] == 0:
        product = 2 * product + length - (after < count)
        length *= 2
    elif b[7] == 1 and after < count:
        product += length - 1
    product //= length
    return (count + product if after > count else count - product), relay


# Return play(day, second, clock_valid, stopped, since_start_s), which returns the status and, for
# each output, count, code, relay. Outputs that the image does not have stay dark: (0, 0, False);
# so do all if it is refused. An image that was not looked through before needs is_playable.
# day: from 2000-01-01; since_start_s: since the lamps came from the dark, None for long ago.
def player(b, outputs, is_playable=None):
    channels = 0
    if is_whole(b) and (is_playable is None or is_playable(b)):
        channels, every_s, top, full, soft_min, first, last, tables, sets, shift, _, factor, add = (
            unpack_from("<B8HBBii", b, 9)
        )
        tables_at = 72 + 12 * channels
        sets_at = tables_at + tables * (2 + 2 * channels)
        rows_at = sets_at + 6 * sets

    def code(count):
        if shift == 255:
            at, rows = unpack_from("<IH", b, rows_at - 6)
            return unpack_from("<H", b, rows_at + 5 * (at + rows) + 2 * count)[0]
        return min(max(count * factor + add >> shift, 0), full)

    def play(day, second, clock_valid=True, stopped=False, since_start_s=None):
        status = 0
        if not (channels and clock_valid) or stopped or not 0 <= second < 86400:
            status = SAFE
        elif b[5] & 4:
            status = EARLY * (day < first) | EXPIRED * (day > last)
        found = []
        for output in range(min(channels, outputs)):
            snap, snap_to, on, count, ceiling, relay, _ = unpack_from("<5HBB", b, 72 + 12 * output)
            if status != SAFE:
                size = 2 + 2 * channels
                at = tables_at
                while at + size < sets_at and unpack_from("<H", b, at + size)[0] <= day:
                    at += size
                at = sets_at + 6 * unpack_from("<H", b, at + 2 + 2 * output)[0]
                at, rows = unpack_from("<IH", b, at)
                count, relay = _level(b, rows_at + 5 * at, rows, second - second % every_s)
                if since_start_s is not None and since_start_s < 60 * soft_min:
                    ceiling += (top - ceiling) * max(since_start_s, 0) // (60 * soft_min)
                    if count > ceiling:
                        count = ceiling
                        status |= SOFT
                if b[6] != 1:
                    relay = not b[6] or count >= on
                if snap <= count < snap_to:
                    count = snap_to
            if not relay:
                count = 0  # a contact that is welded then gives the floor
            found.append((count, code(count), bool(relay)))
        return status, found + [(0, 0, False)] * (outputs - len(found))

    return play
