"""A terminal's screen after a program wrote to it: what of that the program cannot have meant."""

import re
import unicodedata
from collections.abc import Iterator

import pyte
from verbs_beside import COLUMNS, ROWS, Shown

FORGED = "soak: FORGED"
"""Stands behind a line break in hostile text; no line of the screen may begin so."""
OWN = re.compile("\r\x1b\\[[0-9]+A(?:\x1b\\[J)?|\r?\x1b\\[[JK]|\r?\n\a{0,3}")
"""What the program writes on purpose: it goes up to the foot of the window, clears it or a line,
ends one (the terminal adds the CR), and rings behind one for a hand that looks elsewhere."""
MOST_OF_A_LINE = 4000
"""Signs of a line on a terminal: more is a text that was not bounded."""
MOST_HELD_BYTES = 900 << 20


class _Asked(pyte.Screen):
    """A screen that notes what it was made to answer: an answer is typed into the shell."""

    def __init__(self) -> None:
        super().__init__(COLUMNS, ROWS)
        self.answers: list[str] = []

    def write_process_input(self, data: str) -> None:
        self.answers.append(data)


def wrongs(shown: Shown) -> Iterator[str]:
    """Yield what is wrong with what a command did to the terminal."""
    if shown.hung:
        yield "hangs"
    if shown.most_bytes > MOST_HELD_BYTES:
        yield f"held {shown.most_bytes >> 20} MiB"
    try:
        text = shown.shown.decode()
    except UnicodeDecodeError as fault:
        yield f"is no UTF-8: {fault}"
        text = shown.shown.decode(errors="replace")
    if "Traceback (most recent call last)" in text:
        yield "a traceback"
    strange = sorted({sign for sign in OWN.sub("", text) if _acts(sign)})
    if strange:
        yield "strange signs: " + " ".join(f"U+{ord(sign):04X}" for sign in strange)
    lines = OWN.sub("\n", text).split("\n")
    if any(line.startswith(FORGED) for line in lines):
        yield "a forged line"
    longest = max(map(len, lines))
    if longest > MOST_OF_A_LINE and not shown.shown.lstrip().startswith((b"{", b"[")):
        yield f"a line of {longest} signs"
    yield from _of_the_screen(shown.shown)


def _acts(sign: str) -> bool:
    """Tell whether a sign is not drawn but does something, or is no sign at all."""
    return unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp")


def _of_the_screen(data: bytes) -> Iterator[str]:
    screen, fresh = _Asked(), _Asked()
    pyte.ByteStream(screen).feed(data[-200_000:])
    if screen.title or screen.icon_name:
        yield f"set the title: {screen.title!r}"
    if screen.answers:
        yield f"made the terminal answer: {screen.answers!r}"
    if screen.mode != fresh.mode or screen.margins != fresh.margins:
        yield "left the terminal in another mode"
    if screen.cursor.hidden or screen.cursor.attrs != fresh.cursor.attrs:
        yield "left the cursor hidden, or coloured"
    if screen.cursor.x:
        yield "left the cursor within a line"
