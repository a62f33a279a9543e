"""What the hardware makes of a level: converter, ballast, tubes. Arrays in, arrays out."""
