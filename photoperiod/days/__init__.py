"""What every channel is wanted to give on a date."""
