"""The words of a page in the reader's language; the content itself, and its JSON, stay English.

A catalogue is a TOML file `languages/<code>.toml`: English text to the other language's. A text
may hold places, `"{starts} of {all} starts worked"`; what stands in a place is said in turn, so
that one entry serves every number. What a catalogue does not hold stays as it is: the names and
words that people typed are nobody's to translate.
"""

import functools
import html
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any, TypeVar

from soak.errors import UsageError
from soak.report.model import Part, Report

_DATE = re.compile(r"(?<![\w-])(\d{4})-(\d{2})-(\d{2})(?![\w-])")
_DECIMAL = re.compile(r"(?<![\w.])(\d+)\.(\d+)(?![\w.])")
_PLACE = re.compile(r"\{(\w+)\}")
_ENDS = re.compile(r"(?<=[.;?!])( )")
_SHOWN = re.compile(r">([^<>]+)<")

_TYPED: Mapping[str, frozenset[str]] = {
    "Report": frozenset({"audience", "report_id", "issued_utc"}),
    "Issuer": frozenset({"bench", "address"}),
    "Unit": frozenset({"model", "tag", "serial"}),
    "Repair": frozenset({"what"}),
    "Tested": frozenset({"id", "check", "verdict", "unit", "method"}),
    "Together": frozenset({"check", "verdict"}),
    "Pointer": frozenset({"soak_id"}),
    "Chart": frozenset({"name"}),
    "Frame": frozenset({"name", "sha256"}),
    "Note": frozenset({"text", "by"}),
    "Listed": frozenset({"soak_id"}),
    "Soak": frozenset({"soak_id", "began_utc", "resumed_utc", "seal_sha256", "script_in_full"}),
    "Instrument": frozenset({"driver", "identity", "notes", "calibration"}),
    "Method": frozenset({"program"}),
}
"""Fields that are said as they stand, by class: names, ids and what people typed."""

P = TypeVar("P", bound=Part)


@dataclass(frozen=True)
class Language:
    """One language of the pages.

    Attributes
    ----------
    code : str
        As BCP 47 writes it, `"de"`.
    words : mapping
        English to this language; empty for English.
    months : sequence of str
        January to December.
    date : str
        How a date is written, with `{day}`, `{month}`, `{year}`.
    decimal : str
        The decimal sign.
    """

    code: str
    words: Mapping[str, str]
    months: Sequence[str]
    date: str
    decimal: str

    def say(self, text: str) -> str:
        """Return an English text in this language, its numbers and dates as they are written."""
        return self._localised(self._translated(text))

    def knows(self, text: str) -> bool:
        """Whether the catalogue holds a text, whole or each of its sentences."""
        if self._entry(text) is not None:
            return True
        sentences = [one for one in _ENDS.split(text) if one.strip()]
        return len(sentences) > 1 and all(map(self.knows, sentences))

    def _translated(self, text: str) -> str:
        if not self.words or not text:
            return text
        said = self._entry(text)
        if said is not None:
            return said
        sentences = _ENDS.split(text)
        if len(sentences) > 1:
            return "".join(map(self._translated, sentences))
        return text

    def _entry(self, text: str) -> str | None:
        """Return what the catalogue has for a text, whatever its end and first letter's case."""
        if text in self.words:
            return self.words[text]
        bare = text.rstrip(".;")
        for tried in dict.fromkeys((bare, _flipped(bare), text)):  # no place is to take the end
            said = self._looked_up(tried)
            if said is not None:
                end = "" if tried == text else text[len(bare) :]
                upper = tried != bare and tried != text and bare[:1].isupper()
                return (said[:1].upper() + said[1:] if upper else said) + end
        return None

    def _looked_up(self, text: str) -> str | None:
        if text in self.words:
            return self.words[text]
        for pattern, other in self._patterns:
            found = pattern.fullmatch(text)
            if found:
                parts = {name: self._translated(part) for name, part in found.groupdict().items()}
                return other.format_map(parts)
        return None

    @functools.cached_property
    def _patterns(self) -> list[tuple[re.Pattern[str], str]]:
        """Entries with places as patterns, those with most words of their own first."""
        entries = [entry for entry in self.words.items() if _PLACE.search(entry[0])]
        entries.sort(key=lambda entry: -len(_PLACE.sub("", entry[0])))
        return [(_pattern(english), other) for english, other in entries]

    def _localised(self, text: str) -> str:
        if self.decimal != ".":
            text = _DECIMAL.sub(rf"\1{self.decimal}\2", text)
        return _DATE.sub(self._written, text)

    def _written(self, found: re.Match[str]) -> str:
        year, month, day = map(int, found.groups())
        if not 1 <= month <= 12:
            return found[0]
        return self.date.format(day=day, month=self.months[month - 1], year=year)


def _flipped(text: str) -> str:
    return text[:1].swapcase() + text[1:]


def _pattern(english: str) -> re.Pattern[str]:
    """Return the pattern of an entry: its words, and in each place anything."""
    pieces = _PLACE.split(english)
    pieces[::2] = map(re.escape, pieces[::2])
    pieces[1::2] = [f"(?P<{name}>.+?)" for name in pieces[1::2]]
    return re.compile("".join(pieces))


@functools.cache
def language(code: str) -> Language:
    """Return a language by its code.

    Raises
    ------
    UsageError
        If there is no catalogue of it.
    """
    folder = resources.files("soak.report").joinpath("languages")
    known = sorted(file.name.removesuffix(".toml") for file in folder.iterdir())
    if code not in known:
        raise UsageError(f"--language {code}: there is {', '.join(known)}")
    entry = tomllib.loads(folder.joinpath(f"{code}.toml").read_text(encoding="utf-8"))
    return Language(code, entry["words"], entry["months"], entry["date"], entry["decimal"])


def spoken(part: P, speaks: Language) -> P:
    """Return a report, or a part of one, said in a language; typed words and ids untouched."""
    kept = _TYPED.get(type(part).__name__, frozenset())
    said = {
        name: _said(getattr(part, name), speaks)
        for name in type(part).model_fields
        if name not in kept
    }
    return part.model_copy(update=said)


def _said(value: Any, speaks: Language) -> Any:
    if isinstance(value, str):
        return speaks.say(value)
    if isinstance(value, Part):
        return spoken(value, speaks)
    if isinstance(value, tuple):
        return tuple(_said(one, speaks) for one in value)
    return value


def texts(part: Part) -> set[str]:
    """Return every text of a part that is not typed by people: what a catalogue must hold."""
    kept = _TYPED.get(type(part).__name__, frozenset())
    found: set[str] = set()
    for name in type(part).model_fields:
        if name in kept:
            continue
        value = getattr(part, name)
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, Part):
                found |= texts(one)
            elif isinstance(one, str) and one:
                found.add(one)
    return found


def drawn_in(svg: str, speaks: Language) -> str:
    """Return a drawing with its words said in a language."""
    if not speaks.words:
        return svg
    return _SHOWN.sub(
        lambda found: f">{html.escape(speaks.say(html.unescape(found[1])), quote=False)}<", svg
    )


def spoken_report(report: Report, code: str) -> tuple[Report, Language]:
    """Return a report said in a language, and the language for the page's own words."""
    speaks = language(code)
    return spoken(report, speaks), speaks
