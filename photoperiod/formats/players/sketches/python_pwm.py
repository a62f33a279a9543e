# Levels are pulses into a filter and an amplifier, high for code of 2^LEVEL_BITS parts.
from machine import PWM

if hasattr(pins, "CONVERTER_ADDRESS"):
    raise ValueError("pins.py: CONVERTER_ADDRESS is of a converter, and this program makes pulses")

LEVELS = {
    name: PWM(Pin(number), freq=PULSES_HZ, duty_u16=0) for name, number in pins.LEVELS.items()
}


def set_level(name, code):
    LEVELS[name].duty_u16(code << 16 - LEVEL_BITS)
