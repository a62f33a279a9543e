# Levels are converters MCP4725, one for each channel, each at its own address. Its data sheet: two
# bytes, of which the first holds two zeros, the power-down bits (0: on) and the upper four bits.
def set_level(name, code):
    BUS.writeto(pins.LEVELS[name], bytes((code >> 8, code & 255)))
