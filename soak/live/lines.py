"""Lines for the operator beside a screen: what is about to be done, and what came of it."""

from soak.reader import show
from soak.words import Said


def say_line(told: Said) -> None:
    """Print a line, in the reader's language."""
    show(told)
