"""The player: what a controller does with a playable table, second by second."""
