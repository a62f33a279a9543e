# Levels are the four outputs of an MCP4728, 0 to 3 for A to D. Its data sheet: 0x40 and twice the
# output, then four bits for its supply as reference, on, gain 1, and twelve bits of code.
for level in pins.LEVELS.values():
    if not 0 <= level <= 3:
        raise ValueError("pins.py: LEVELS of an MCP4728 are 0 to 3, for its outputs A to D")
if not 0x60 <= getattr(pins, "CONVERTER_ADDRESS", 0) <= 0x67:
    raise ValueError("pins.py: CONVERTER_ADDRESS of an MCP4728 is 0x60 to 0x67")


def set_level(name, code):
    BUS.writeto(
        pins.CONVERTER_ADDRESS, bytes((0x40 | pins.LEVELS[name] << 1, code >> 8, code & 255))
    )
