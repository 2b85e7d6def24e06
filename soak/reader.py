"""Who reads here, and in which language: where words come last for screens, questions, errors.

A command says all it says through `spoken`. The language is the bench's (`speak`), else that of
the environment; it is looked up when something is first said.
"""

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from soak.errors import UsageError
from soak.language import codes, language
from soak.words import ENGLISH, Said, Speaker, said

_LOCALES = ("LC_ALL", "LC_MESSAGES", "LANG")


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
    """Say a message in the reader's language; what is plain text stays as it is."""
    return said(told, _READER.speaker())


def spoken_code() -> str:
    """Return the code of the language that is spoken."""
    _READER.speaker()
    return _READER.code
