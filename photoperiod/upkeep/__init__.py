"""What a tank takes over months and years: energy, money, tubes, and what is to be done on which date."""
