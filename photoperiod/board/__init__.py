"""A player for a Linux board: tables onto converters, relays and brokers, day and night.

What is put out follows from `photoperiod.player.reference` alone. Everything here is about the world: a
clock that may be wrong, devices that vanish, brokers that are away, disks that are full.
"""
