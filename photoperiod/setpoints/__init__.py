"""From a curve and a light path to the few rows that a controller holds, with a certificate."""
