"""Text of other people made fit to print: nothing that hides, reverses or breaks the page.

Markup is not touched here, only escaped where it is written; what is removed has no printed form.
"""

import re
import unicodedata
from collections.abc import Callable
from typing import TypeAlias

from soak.words import Said

Say: TypeAlias = Callable[[Said], str]
"""Says what a chart shows in the reader's language; only then its width is known."""

# Overrides, embeddings and isolates turn the rest of a line around (Unicode Standard Annex 9,
# Bidirectional Algorithm); zero-width ones make two different serials look the same.
_HIDDEN = re.compile("[\u200b\u200e\u200f\u061c\u202a-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb]")
_BROKEN = re.compile("[\ud800-\udfff\ufffe\uffff]")
_BLANK = re.compile(r"\s+")

LONGEST = 600
"""Characters of one text that a page prints."""


def printable(text: object, longest: int = LONGEST) -> str:
    """Return `text` on one line without control, reversing and zero-width characters.

    Parameters
    ----------
    longest : int
        More characters than that are cut from the middle, and the text says how many.
    """
    plain = _BROKEN.sub("\ufffd", _HIDDEN.sub("", str(text)))
    plain = "".join(" " if unicodedata.category(sign) == "Cc" else sign for sign in plain)
    plain = _BLANK.sub(" ", plain).strip()
    if len(plain) <= longest:
        return plain
    head = longest * 2 // 3
    tail = longest // 6
    left_out = f"({len(plain) - head - tail} characters left out)"
    return f"{plain[:head].rstrip()} … {left_out} … {plain[-tail:].lstrip()}"


def shortened(text: object, longest: int) -> str:
    """Return `text` fit to print in at most `longest` characters, the end cut with an ellipsis."""
    plain = printable(text, longest=10 * longest + 200)
    return plain if len(plain) <= longest else plain[: longest - 1].rstrip() + "…"
