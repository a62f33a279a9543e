# The bus of clock and converter. A bus that hangs raises an error in time.
from machine import SoftI2C

BUS = SoftI2C(scl=Pin(pins.SCL), sda=Pin(pins.SDA), freq=100_000, timeout=10_000)
