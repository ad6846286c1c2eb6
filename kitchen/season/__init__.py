"""What a kitchen did in a season: jars by food, hours at the canners, seals and deviations."""
