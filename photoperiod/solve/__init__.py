"""Find the days that give zones the doses that they ask for.

A linear programme proposes peaks and lengths of days (`proposal`), levels of the table's own grid are tuned
(`tuning`), the tables are fitted and played (`trial`), and what they are off by is put in again (`search`).
"""
