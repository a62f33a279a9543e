"""Schedules drawn at random over the whole language, readers of what `compile` writes of them, and laws.

`draw.py` draws a schedule from a seed, `readers.py` and `plain_light.py` read and play the outputs with none
of our code, `laws.py` is what must hold, and `run.py` goes through many seeds; see DEVELOPERS.md.
"""
