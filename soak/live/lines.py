"""Lines for the operator beside a screen: what is about to be done, and what came of it."""

from soak.reader import show
from soak.words import Output


def say_line(told: Output) -> None:
    """Print a line, in the reader's language."""
    show(told)
