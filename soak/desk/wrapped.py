"""Sentences on a screen: whole words, in lines no wider than the window."""

import shutil
from textwrap import wrap

from soak.reader import spoken
from soak.words import Said

_WIDEST = 100
"""Lines are no wider than so many columns, however wide the window: common practice for text."""
_NARROWEST = 32
"""Below so many columns nothing is wrapped any more: a word a line is not read."""


def window_width() -> int:
    """Return how wide sentences may be, columns."""
    return min(_WIDEST, shutil.get_terminal_size().columns)


def wrapped(told: Said, width: int, indent: str, then: str = "    ") -> str:
    """Say it in the reader's language, in lines of whole words, all set in by `indent`.

    Where that is empty, each but the first is set in by `then`.
    """
    text = spoken(told)
    if width < _NARROWEST:
        return indent + text
    return "\n".join(
        wrap(text, width, initial_indent=indent, subsequent_indent=indent or then,
             break_long_words=False, break_on_hyphens=False)
    )  # fmt: skip
