# The clock chip is a PCF8523 with a battery, at address 0x68. Its data sheet: the time stands in
# registers 3 to 9 in BCD, bit 7 of the seconds says that it has stopped since it was set, bit 3 of
# register 0 is its 12-hour mode, and the highest bits of register 2 let the battery keep it running.
def read_clock():
    raw = BUS.readfrom_mem(0x68, 0, 10)
    if raw[3] & 0x80 or raw[0] & 0x28:
        return None
    return time_of((raw[3], raw[4], raw[5], raw[6], raw[8], raw[9]))


def set_clock(second, minute, hour, day, month, year):
    control = BUS.readfrom_mem(0x68, 0, 1)[0]
    BUS.writeto_mem(0x68, 0, bytes((control & 0x80,)))  # keeps what its crystal needs
    BUS.writeto_mem(0x68, 2, b"\0")
    BUS.writeto_mem(0x68, 3, bytes((second, minute, hour, day, 0, month, year)))
