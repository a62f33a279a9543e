"""The light of a day as a function of time."""
