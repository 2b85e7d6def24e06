"""soak: the other half of a repair."""

__version__ = "0.1.0"
