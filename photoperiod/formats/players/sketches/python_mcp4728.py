# Levels are the four outputs of an MCP4728, 0 to 3 for A to D. Its data sheet: 0x40 and twice the
# output, then four bits for its supply as reference, on, gain 1, and twelve bits of code.
def set_level(name, code):
    BUS.writeto(
        pins.CONVERTER_ADDRESS, bytes((0x40 | pins.LEVELS[name] << 1, code >> 8, code & 255))
    )
