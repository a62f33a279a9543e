"""From a schedule and dates to a program: dated tables for all channels, and what they give to zones.

What electricity and tubes cost over dates, and a calendar of changes to come, belong beside
`dated_tables`: they read a finished `Program`.
"""
