"""What the unit was given and drew: power, supply, currents, loads."""
