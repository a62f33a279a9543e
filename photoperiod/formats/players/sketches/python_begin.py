import os
import select
import sys
import time

import pins
from machine import WDT, Pin, reset

# Dark first: before anything that could fail.
OPEN, CLOSED = (0, 1) if pins.RELAY_CLOSED else (1, 0)
RELAYS = {name: Pin(number, Pin.OUT, value=OPEN) for name, number in pins.RELAYS.items()}

from photoperiod_table import CHANNELS, SAFE, load
