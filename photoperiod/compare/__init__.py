"""A log of what happened compared with the table that was loaded."""
