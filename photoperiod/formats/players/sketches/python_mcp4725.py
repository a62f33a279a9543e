# Levels are converters MCP4725, one for each channel, each at its own address. Its data sheet: two
# bytes, of which the first holds two zeros, the power-down bits (0: on) and the upper four bits.
for level in pins.LEVELS.values():
    if not 0x60 <= level <= 0x67:
        raise ValueError("pins.py: LEVELS of an MCP4725 are addresses, 0x60 to 0x67")


def set_level(name, code):
    BUS.writeto(pins.LEVELS[name], bytes((code >> 8, code & 255)))
