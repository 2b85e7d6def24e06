"""Text that somebody else gave, so written that it can do nothing but be read.

A serial, a note, the name of a file that a unit wrote: on a screen such a text could move the
cursor, name the window or forge a line, on a page it could turn what stands beside it around. What
is not drawn is written as its code point, as JSON writes it, so that data stay what they are.

References
----------
ECMA-48, 5th edition (1991), 5: control functions begin with a control character of C0 or C1.
Unicode 15.0: 4.5, general categories Cc, Cf, Cs, Zl, Zp; Standard Annex 9, bidirectional marks;
Technical Report 36, 2.10 and 3: characters that are not seen.
"""

import re

_UNDRAWN = (
    r"\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u034f\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2"
    r"\u115f\u1160\u17b4\u17b5\u180b-\u180f\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164\ud800-\udfff"
    r"\ufe00-\ufe0f\ufeff\uffa0\ufff9-\ufffb\U000110bd\U000110cd\U00013430-\U0001343f"
    r"\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U000e0000-\U000e0fff"
)
"""The categories named above but for tab and line feed, and what else Unicode calls
Default_Ignorable_Code_Point (DerivedCoreProperties, from memory); as ranges, so that the same text
comes out whatever Unicode an interpreter knows."""
_STRANGE = re.compile(f"[{_UNDRAWN}]")
_STRANGE_IN_A_LINE = re.compile(f"[\t\n{_UNDRAWN}]")
_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?", re.ASCII)
_SHORT = {"\t": r"\t", "\n": r"\n", "\r": r"\r"}


def visible(text: str) -> str:
    """Return a text with all that is not drawn written as its code point; lines stay lines."""
    return _STRANGE.sub(_written, text)


def in_line(text: str) -> str:
    """Return a text for one place in a line: its breaks are written as code points, too."""
    return _STRANGE_IN_A_LINE.sub(_written, text)


def harmless(text: str) -> str:
    """Return a text for a cell of a table: visible, and no spreadsheet takes it for a formula.

    A number stays one, its sign included.

    References
    ----------
    OWASP, CSV Injection: a cell that begins with one of these signs may be a formula.
    """
    shown = visible(text)
    is_run = text.startswith(_RUNS) and not _NUMBER.fullmatch(text)
    return f"'{shown}" if is_run else shown


def _written(strange: re.Match[str]) -> str:
    sign = strange[0]
    if sign in _SHORT:
        return _SHORT[sign]
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))
