"""From a schedule and dates to a program: dated tables for all channels, and what they give to zones.

First it is planned which day holds when (`day_sequence`, `season_types`, `dated_plan`), then tables are
made (`dated_tables`). `season_days` lets one table serve many days.

What electricity and tubes cost over dates, and a calendar of changes to come, belong beside
`dated_tables`: they read a finished `Program`.
"""
