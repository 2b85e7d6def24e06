"""The reader's language: its catalogue of phrases, its plurals, its numbers and dates."""

import functools
import gettext
import io
from dataclasses import dataclass
from datetime import date
from importlib import resources
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING

from soak.errors import UsageError
from soak.visible import visible
from soak.words import Said, Speaker, joined, msg, said

if TYPE_CHECKING:
    from babel import Locale


@dataclass(frozen=True)
class Language:
    """A language that pages are said in.

    Attributes
    ----------
    code : str
        As BCP 47 writes it, `"de"`.
    speaks : Speaker
        Its phrases, plurals, numbers and dates.
    """

    code: str
    speaks: Speaker

    def say(self, told: Said) -> str:
        """Say a message, or a value, in this language."""
        return visible(said(told, self.speaks))


class _Written:
    """A language as pages are written: decimal signs, dates and lists as CLDR has them."""

    def __init__(self, catalogue: gettext.NullTranslations, locale: "Locale") -> None:
        self._catalogue = catalogue
        self._locale = locale

    def phrase(self, one: str) -> str:
        return self._catalogue.gettext(one) if one else ""  # gettext("") is the catalogue's header

    def counted(self, one: str, many: str, number: float) -> str:
        # gettext counts in whole numbers; any fraction reads like the plural.
        return self._catalogue.ngettext(one, many, int(number) if number == int(number) else 2)

    def decimal(self, text: str) -> str:
        from babel.numbers import get_decimal_symbol

        return text.replace(".", get_decimal_symbol(self._locale))

    def day(self, day: date) -> str:
        from babel.dates import format_date

        return format_date(day, "long", self._locale)

    def all_of(self, parts: list[str]) -> str:
        from babel.lists import format_list

        return format_list(parts, locale=self._locale)


def codes() -> list[str]:
    """Return the codes of the languages there are."""
    return sorted(["en", *(folder.name for folder in _languages().iterdir())])


@functools.cache
def language(code: str) -> Language:
    """Return a language by its code.

    Raises
    ------
    UsageError
        If there is no catalogue of it.
    """
    if code not in codes():
        raise UsageError(
            msg("--language {code}: there is {codes}", code=code, codes=joined(", ", codes()))
        )
    from babel import Locale

    if code == "en":  # phrases are English: only days are written otherwise than in the data
        return Language(code, _Written(gettext.NullTranslations(), Locale("en", "GB")))
    return Language(code, _Written(_catalogue(code), Locale.parse(code)))


def _languages() -> Traversable:
    return resources.files("soak").joinpath("languages")


def _catalogue(code: str) -> gettext.GNUTranslations:
    """Read the catalogues as their translator wrote them; made anew, so no made file is stale."""
    from babel.messages.catalog import Catalog
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    whole = Catalog(locale=code)
    made = io.BytesIO()
    for file in _languages().joinpath(code).iterdir():
        with file.open("rb") as source:
            for message in read_po(source, locale=code):
                whole[message.id] = message
    write_mo(made, whole)
    made.seek(0)
    return gettext.GNUTranslations(made)
