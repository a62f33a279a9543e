/*
 * Levels are converters MCP4725, one for each channel, each at its own address. Its data sheet: two
 * bytes, of which the first holds two zeros, the power-down bits (0: on) and the upper four bits.
 */

static void start_levels(void)
{
}

static uint8_t set_level(uint8_t address, uint16_t code)
{
    const uint8_t bytes[] = {(uint8_t)(code >> 8), (uint8_t)code};
    return write_on_bus(address, bytes, sizeof bytes);
}
