"""What a verb says, in the reader's language."""

import sys

import typer

from soak.reader import spoken
from soak.words import Output


def echo(told: Output, *, err: bool = False) -> None:
    """Print what a verb says; data for a program stay as they are."""
    typer.echo(spoken(told), err=err)


def progress(told: Output) -> None:
    """Show on a terminal how far it is; an empty text clears the line."""
    if sys.stderr.isatty():
        sys.stderr.write(f"\r\033[K{spoken(told)}")
