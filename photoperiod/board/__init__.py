"""A player for a Linux board: it puts tables out through converters, relays and brokers.

`photoperiod.player.reference` alone computes what is put out. This package deals with the world around
it: a clock that may be wrong, devices that vanish, brokers that are away, disks that are full.
"""
