"""Lines for the operator beside a screen: what is about to be done, and what came of it."""

import sys
from contextlib import suppress

from soak.reader import spoken
from soak.words import Output


def say_line(told: Output) -> None:
    """Print a line, in the reader's language."""
    with suppress(OSError):  # a closed terminal ends no soak by itself
        sys.stderr.write(f"{spoken(told)}\n")
