"""What a verb says, in the reader's language."""

import sys

import typer

from soak.reader import spoken
from soak.words import Said


def echo(told: Said, *, err: bool = False) -> None:
    """Print what a verb says; what is plain text, such as JSON, stays as it is."""
    typer.echo(spoken(told), err=err)


def progress(told: Said) -> None:
    """Show on a terminal how far it is; an empty text clears the line."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r\033[K{spoken(told)}")
