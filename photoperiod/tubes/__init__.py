"""Tubes over time: hours burned, burn-in owed, and days at full. No files, no YAML, no schedule.

Readings that say how much light tubes have really lost belong here, beside `hours`.
"""
