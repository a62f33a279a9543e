/*
 * Levels are the four outputs of an MCP4728, 0 to 3 for A to D. Its data sheet: 0x40 and twice the
 * output, then four bits for its supply as reference, on, gain 1, and twelve bits of code.
 */

static void start_levels(void)
{
}

static uint8_t set_level(uint8_t level, uint16_t code)
{
    const uint8_t bytes[] = {(uint8_t)(0x40u | 2u * level), (uint8_t)(code >> 8), (uint8_t)code};
    return write_on_bus(CONVERTER_ADDRESS, bytes, sizeof bytes);
}
