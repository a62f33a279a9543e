/*
 * The clock chip is a PCF8523 with a battery, at address 0x68. Its data sheet: the time stands in
 * registers 3 to 9 in BCD, bit 7 of the seconds says that it has stopped since it was set, bit 3 of
 * register 0 is its 12-hour mode, and the highest bits of register 2 let the battery keep it running.
 */

enum { CHIP_FINE, CHIP_STOPPED, CHIP_SILENT };

static uint8_t read_chip(uint8_t bcd[6])
{
    uint8_t raw[10];
    if (!read_on_bus(0x68, 0, raw, 10)) {
        return CHIP_SILENT;
    }
    if ((raw[3] & 0x80u) != 0u || (raw[0] & 0x28u) != 0u) {
        return CHIP_STOPPED; /* or stopped by its own bit 5 */
    }
    bcd[0] = raw[3];
    bcd[1] = raw[4];
    bcd[2] = raw[5];
    bcd[3] = raw[6];
    bcd[4] = raw[8];
    bcd[5] = raw[9];
    return CHIP_FINE;
}

static uint8_t write_chip(const uint8_t bcd[6])
{
    uint8_t control;
    const uint8_t battery[] = {2, 0};
    const uint8_t time[] = {3, bcd[0], bcd[1], bcd[2], bcd[3], 0, bcd[4], bcd[5]};
    if (!read_on_bus(0x68, 0, &control, 1)) {
        return 0;
    }
    {
        const uint8_t runs[] = {0, (uint8_t)(control & 0x80u)}; /* keeps what its crystal needs */
        return write_on_bus(0x68, runs, sizeof runs) &&
               write_on_bus(0x68, battery, sizeof battery) && write_on_bus(0x68, time, sizeof time);
    }
}
