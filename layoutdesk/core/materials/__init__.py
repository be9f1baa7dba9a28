"""What a plan takes: the take-off, cuts from rolls, units of sale, and what holds by mechanics."""
