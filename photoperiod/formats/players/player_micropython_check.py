# What player_micropython.py leaves out: whether an image that comes from elsewhere, and is whole by
# its checksum, holds what a player can play. It stands below the player in one file.


def is_playable(b):
    try:
        _check(b)
    except ValueError:
        return False
    return True


def _need(holds):
    if not holds:
        raise ValueError


def _check(b):
    end = len(b) - 4
    (flags, relay, rounding, clock, channels, every_s, top, full, _, first, last, tables, sets, shift,
     zero, factor, add) = unpack_from("<5B8H2B2i", b, 5)  # fmt: skip
    _need(flags < 16 and relay < 3 and rounding < 3 and clock < 3 and not zero)
    _need(channels and tables and sets and every_s and not 86400 % every_s and first <= last)
    _need(flags & 4 or (not last and tables == 1))
    at = 72
    _need(at + 12 * channels + tables * (2 + 2 * channels) + 6 * sets <= end)
    for _ in range(channels):
        snap, snap_to, _, safe, soft, relay, zero = unpack_from("<5H2B", b, at)
        _need(snap <= snap_to <= top and safe <= top and soft <= top and relay < 2 and not zero)
        at += 12
    before = -1
    for _ in range(tables):
        day = b[at] | b[at + 1] << 8
        _need(day > before if before >= 0 else day == first)
        before = day
        for _ in range(channels):
            at += 2
            _need(b[at] | b[at + 1] << 8 < sets)
        at += 2
    _need(before <= last)
    at, is_wide = _check_rows(b, at, at + 6 * sets, top, flags & 2, end)
    _need((is_wide or factor * top + max(add, 0) > 0x7FFFFFFF) == (flags > 7))
    if shift == 255:
        _need(not factor and not add and at + 2 * top + 2 <= end)
        for _ in range(top + 1):
            _need(b[at] | b[at + 1] << 8 <= full)
            at += 2
    else:
        _need(shift < 25 and factor >= 0)
    _need(at + 4 <= end and at + 4 + unpack_from("<I", b, at)[0] == end)


# The rows of all sets: where they end, and whether two are so far apart that it is wide.
def _check_rows(b, sets_at, at, top, stays, end):
    total = 0
    is_wide = False
    for set_at in range(sets_at, at, 6):
        first, rows = unpack_from("<IH", b, set_at)
        _need(rows and first == total and at + 5 * rows <= end)
        total += rows
        if not stays:
            before, count, _ = _row(b, at + 5 * rows - 5)
            before -= 86400
        for row in range(rows):
            second, after, _ = _row(b, at)
            _need(b[at + 2] < 4 and second < 86400 and after <= top)
            if row or not stays:
                _need(second > before)
                is_wide = is_wide or 2 * abs(after - count) + 1 > 0x7FFFFFFF // (second - before)
            before, count = second, after
            at += 5
    return at, is_wide
