"""The player: what a controller does with tables, in integers, and the bytes it reads them from."""
