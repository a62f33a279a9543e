"""From plain data with places to a schedule of frozen values."""
