"""What a verb says, in the reader's language."""

import sys

from soak.reader import CLEARED, show
from soak.words import Output


def echo(told: Output, *, err: bool = False) -> None:
    """Print what a verb says; data for a program stay as they are."""
    show(told, sys.stderr if err else sys.stdout)


def progress(told: Output) -> None:
    """Show on a terminal how far it is; an empty text clears the line."""
    if sys.stderr.isatty():
        show(told, before=CLEARED, end="")
