"""A simulated world around the real player of a board: everything follows from a seed.

Only the protocols through which the player reaches the world are replaced; see DEVELOPERS.md.
"""
