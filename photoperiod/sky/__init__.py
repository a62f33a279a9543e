"""Sun, moon and clocks: altitudes by libraries, events by our own finder, zones by tzdata."""
