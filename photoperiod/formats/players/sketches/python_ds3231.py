# The clock chip is a DS3231 with a battery, at address 0x68. Its data sheet: the time stands in
# registers 0 to 6 in BCD, bit 6 of the hours is its 12-hour mode, bit 7 of the status at 15 says that
# it has stopped since it was set.
def read_clock():
    state = BUS.readfrom_mem(0x68, 15, 1)
    raw = BUS.readfrom_mem(0x68, 0, 7)
    if state[0] & 0x80 or raw[2] & 0x40:
        return None
    return time_of((raw[0], raw[1], raw[2], raw[4], raw[5] & 0x7F, raw[6]))


def set_clock(second, minute, hour, day, month, year):
    BUS.writeto_mem(0x68, 0, bytes((second, minute, hour, 1, day, month, year)))
    BUS.writeto_mem(0x68, 15, b"\0")
