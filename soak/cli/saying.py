"""What a verb says, in the reader's language."""

import sys

from soak.reader import CLEARED, show
from soak.words import Said


def echo(told: Said, *, err: bool = False) -> None:
    """Print what a verb says; what is plain text, such as JSON, stays as it is."""
    show(told, sys.stderr if err else sys.stdout)


def progress(told: Said) -> None:
    """Show on a terminal how far it is; an empty text clears the line."""
    if sys.stderr.isatty():
        show(told, before=CLEARED, end="")
