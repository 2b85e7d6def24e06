"""The foot of a screen: rows that are written over, and above them lines that stay."""

import unicodedata
from collections import deque
from collections.abc import Sequence
from textwrap import wrap
from typing import NamedTuple

_MOST_KEPT = 200
"""So many lines that stay are kept, to be shown again where a window changed its size: no window
has more rows. Decides nothing."""


class Size(NamedTuple):
    """Columns and rows of a terminal."""

    columns: int
    rows: int


class Foot:
    """What brings a screen from what stood there to what shall stand there.

    The cursor rests behind the last row, which is where somebody types. Only what changed is
    written, as a line may be slow; where a window changed its size, terminals move what stood there
    each in its own way, so that all is written anew.

    References
    ----------
    ECMA-48, 8.3.22 (CUU), 8.3.39 (ED), 8.3.41 (EL), 8.3.21 (CUP).
    """

    def __init__(self) -> None:
        self._rows: Sequence[str] = ()
        self._size: Size | None = None
        self._kept = deque[str](maxlen=_MOST_KEPT)

    def painted(self, lines: Sequence[str], rows: Sequence[str], size: Size) -> str:
        """Return what to write so that `lines` stay and `rows` stand below them."""
        self._kept.extend(lines)
        before, self._rows = self._rows, rows
        resized = self._size is not None and size != self._size
        self._size = size
        stays = [row for line in lines for row in folded(line, size.columns)]
        if resized and (before or rows):
            above = [row for line in self._kept for row in folded(line, size.columns)]
            room = max(0, size.rows - max(1, len(rows)))
            return "\x1b[H\x1b[2J" + _standing(above[len(above) - min(room, len(above)) :], rows)
        if lines or len(rows) != len(before):
            return f"{_to_top(before)}\x1b[J" + _standing(stays, rows)
        if rows == before:
            return ""
        pairs = list(zip(before, rows, strict=True))
        # The last row is written in any case: behind it the cursor rests.
        changed = [f"{new}\x1b[K" if new != old else "" for old, new in pairs[:-1]]
        return _to_top(before) + "\n".join([*changed, f"{rows[-1]}\x1b[K"])


def _to_top(rows: Sequence[str]) -> str:
    up = len(rows) - 1
    return f"\r\x1b[{up}A" if up > 0 else "\r"


def _standing(lines: Sequence[str], rows: Sequence[str]) -> str:
    return "".join(f"{line}\n" for line in lines) + "\n".join(rows)


def folded(text: str, columns: int) -> Sequence[str]:
    """Break a line that stays at its words; a path that is wider than the screen stays whole."""
    if width(text) < columns:
        return [text]
    return wrap(
        text,
        max(8, columns - 1),
        subsequent_indent="    ",
        break_on_hyphens=False,
        break_long_words=False,
    )


def narrow(text: str, columns: int) -> Sequence[str]:
    """Break a text of the foot at its words: no row is wider than the screen."""
    return [part for row in folded(text, columns) for part in _narrow(row, columns)]


def _narrow(row: str, columns: int) -> Sequence[str]:
    """Return a row in pieces that fit: signs of two columns make it wider than `wrap` knows."""
    pieces = [""]
    for sign in row:
        if width(pieces[-1] + sign) >= max(9, columns):
            pieces.append("")
        pieces[-1] += sign
    return pieces


def cut(text: str, columns: int) -> str:
    """Return a row of a foot, no wider than a screen has room for."""
    if width(text) < columns:
        return text
    kept = text
    while kept and width(kept) + 4 >= columns:
        kept = kept[:-1]
    return f"{kept}..." if kept else text[: max(1, columns - 1)]


def tail(text: str, columns: int) -> str:
    """Return the end of what is typed, where there is not room for all."""
    if width(text) < columns:
        return text
    while text and width(text) + 4 >= columns:
        text = text[1:]
    return f"...{text}"


def filled(parts: Sequence[str], columns: int, most: int, indent: str) -> Sequence[str]:
    """Put parts side by side into at most so many rows, whole where they fit."""
    rows = [""]
    for part in parts:
        longer = f"{rows[-1]} · {part}" if rows[-1].strip() else f"{rows[-1]}{part}"
        if width(longer) < columns or not rows[-1].strip():
            rows[-1] = longer
        else:
            rows.append(f"{indent}{part}")
    if len(rows) > most:
        rows = [*rows[: most - 1], f"{rows[most - 1]} · ..."]
    return [cut(row, columns) for row in rows]


def width(text: str) -> int:
    """Return how many columns a text takes.

    References
    ----------
    Unicode Standard Annex 11: wide and fullwidth signs take two; marks that are put onto another
    sign (Mn, Me) take none.
    """
    if text.isascii():
        return len(text)
    return sum(_columns(sign) for sign in text)


def _columns(sign: str) -> int:
    if unicodedata.category(sign) in ("Mn", "Me"):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1
