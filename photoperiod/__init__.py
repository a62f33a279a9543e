"""Photoperiod compiles one schedule file into the setpoint tables of a small light controller."""

__version__ = "0.1.0"
