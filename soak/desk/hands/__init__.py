"""What is done by hand at a unit: intake, wiggle, reseat, swap, a stick that is played."""
