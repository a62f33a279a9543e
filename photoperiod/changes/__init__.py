"""Changes over dates: which of them act on a date, and the light wanted of every channel then."""
