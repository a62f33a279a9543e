/*
 * The clock chip is a DS3231 with a battery, at address 0x68. Its data sheet: the time stands in
 * registers 0 to 6 in BCD, bit 6 of the hours is its 12-hour mode, bit 7 of the status at 15 says that
 * it has stopped since it was set.
 */

enum { CHIP_FINE, CHIP_STOPPED, CHIP_SILENT };

static uint8_t read_chip(uint8_t bcd[6])
{
    uint8_t raw[7], state;
    if (!read_on_bus(0x68, 15, &state, 1) || !read_on_bus(0x68, 0, raw, 7)) {
        return CHIP_SILENT;
    }
    if ((state & 0x80u) != 0u || (raw[2] & 0x40u) != 0u) {
        return CHIP_STOPPED;
    }
    bcd[0] = raw[0];
    bcd[1] = raw[1];
    bcd[2] = raw[2];
    bcd[3] = raw[4];
    bcd[4] = raw[5] & 0x7Fu; /* bit 7 is the century */
    bcd[5] = raw[6];
    return CHIP_FINE;
}

static uint8_t write_chip(const uint8_t bcd[6])
{
    const uint8_t time[] = {0, bcd[0], bcd[1], bcd[2], 1, bcd[3], bcd[4], bcd[5]};
    const uint8_t state[] = {15, 0};
    return write_on_bus(0x68, time, sizeof time) && write_on_bus(0x68, state, sizeof state);
}
