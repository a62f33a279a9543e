"""Devices that set levels and switch relays, one module for each kind."""
