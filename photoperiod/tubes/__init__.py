"""Tubes over time: hours burned, burn-in owed. No files, no YAML, no schedule."""
