"""Physics of the light path: arrays in, arrays out. No files, no YAML, no schedule."""
