"""What a keeper measured: CSV files of light readings as values with places, and what follows from them."""
