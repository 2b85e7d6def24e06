"""Ways to lie to the program, each through the commands that everybody has; see `liars.py`."""
