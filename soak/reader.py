"""Who reads here, and in which language: where words come last for screens, questions, errors.

A command says all it says through `spoken`, and writes it through `show` alone. The language is
the bench's (`speak`), else that of the environment; it is looked up when something is first said.
"""

import os
import sys
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TextIO

from soak.errors import UsageError
from soak.language import codes, language
from soak.visible import in_line, visible
from soak.words import ENGLISH, Message, Said, Speaker, just, msg, said, typed_in

_LOCALES = ("LC_ALL", "LC_MESSAGES", "LANG")
MOST_SIGNS = 1000
"""So many signs of one text that somebody else gave stand on a screen; what is longer lacks its
middle. Own choice: no path and no note that is meant is as long, and half a screen is left."""
CLEARED = "\r\x1b[K"
"""Back to the beginning of a line that is written over (ECMA-48, 8.3.41: erase in line)."""


def of_environment(environment: Mapping[str, str] = os.environ) -> str:
    """Return the code of the language that the environment asks for; English where there is none.

    References
    ----------
    GNU gettext 0.22 manual, 2.3: `LC_ALL`, `LC_MESSAGES`, `LANG`, the first that is set; before
    them the list `LANGUAGE`, unless the locale is C.
    """
    locale = next((environment[name] for name in _LOCALES if environment.get(name)), "C")
    if _code(locale) in ("c", "posix"):
        return "en"
    wanted = [wish for wish in environment.get("LANGUAGE", "").split(":") if wish] or [locale]
    return next((_code(wish) for wish in wanted if _code(wish) in codes()), "en")


def _code(locale: str) -> str:
    """Return the language of a locale, `"de"` of `"de_AT.UTF-8@euro"`."""
    return locale.partition(".")[0].partition("@")[0].partition("_")[0].partition("-")[0].lower()


@dataclass(slots=True)
class _Reader:
    """Whose language is spoken; found out when it is first needed."""

    choose: Callable[[], str] = of_environment
    code: str = "en"
    speaks: Speaker | None = field(default=None)

    def speaker(self) -> Speaker:
        if self.speaks is None:
            self.code = self.choose()
            try:
                # English as it stands in the code: what says nothing else needs no catalogue.
                self.speaks = ENGLISH if self.code == "en" else language(self.code).speaks
            except UsageError:  # whoever reads the bench's file tells what is wrong with it
                self.speaks = ENGLISH
                self.code = "en"
        return self.speaks


_READER = _Reader()


def speak(choose: Callable[[], str]) -> None:
    """Speak the language whose code `choose` returns; it is asked when something is first said."""
    _READER.choose = choose
    _READER.speaks = None


def spoken(told: Said) -> str:
    """Say a message in the reader's language, for a screen.

    What somebody else gave stands in one line, bounded, and can do nothing there but be read. A
    plain text that is no message is a whole one, such as data: it keeps its lines and its length.
    """
    if isinstance(told, Message):
        return visible(said(typed_in(told, _in_its_place), _READER.speaker()))
    return visible(told) if isinstance(told, str) else said(told, _READER.speaker())


def spoken_line(text: str) -> str:
    """Say a text that somebody else gave: in one line, bounded."""
    return spoken(just(text))


def show(told: Said, out: TextIO | None = None, *, before: str = "", end: str = "\n") -> None:
    """Write what is said to a screen, a pipe or a file: all that `soak` prints goes through here.

    Where nobody listens any more (a closed window, a broken pipe) it is lost: that ends no soak.

    Parameters
    ----------
    out : text stream or None
        None: where errors go, and what is said beside a result.
    before, end : str
        What the program itself does to the terminal, before and behind.
    """
    out = out or sys.stderr
    text = f"{before}{spoken(told)}{end}"
    encoding = getattr(out, "encoding", None) or "utf-8"
    with suppress(OSError, ValueError):
        out.write(text.encode(encoding, "backslashreplace").decode(encoding))
        out.flush()


def _in_its_place(text: str) -> Said:
    """Return a text that somebody else gave; what only parts words, such as a line's end, stays."""
    if not text.strip(" \n"):
        return text
    shown = in_line(text)
    if len(shown) <= MOST_SIGNS:
        return shown
    half = MOST_SIGNS // 2 - 20
    return msg(
        "{begin} ... ({count} signs left out) ... {end}",
        begin=shown[:half],
        count=len(shown) - 2 * half,
        end=shown[-half:],
    )


def spoken_code() -> str:
    """Return the code of the language that is spoken."""
    _READER.speaker()
    return _READER.code
