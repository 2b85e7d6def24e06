"""A soak begun by questions: which unit, what was repaired, how long there is."""
