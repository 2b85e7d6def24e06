"""Answers as people type them: in capitals, with their units, in either language."""

import re
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from soak.errors import UsageError
from soak.live.prompt import fahrenheit, understood
from soak.quantities import write_duration
from soak.roles import Question
from soak.run.script import LONGEST_S
from soak.settings import nearest_name
from soak.words import NOTHING_SAID, Amount, Message, joined, msg

T = TypeVar("T")

OPEN = ("", "?", "open", "offen", "unknown", "unbekannt", "don't know", "weiß nicht")
"""What leaves a question open: nobody knows it, so nobody states it."""
NOTHING = ("nothing", "none", "no", "nichts", "nein", "keine")
_TIME = re.compile(r"(\d+(?:[.,]\d+)?)\s*([^\W\d_]*)\.?[\s,]*(?:and|und)?\s*")
_UNITS_S: Mapping[float, Sequence[str]] = {
    1.0: ("s", "sec", "second", "seconds", "sek", "sekunde", "sekunden"),
    60.0: ("m", "min", "mins", "minute", "minutes", "minuten"),
    3600.0: ("h", "hr", "hrs", "hour", "hours", "std", "stunde", "stunden"),
    86400.0: ("d", "day", "days", "tag", "tage"),
}
_SECONDS_IN = {word: seconds for seconds, words in _UNITS_S.items() for word in words}


def is_open(typed: str) -> bool:
    """Tell whether an answer leaves its question open."""
    return typed.strip().casefold() in [word.casefold() for word in OPEN]


def time_of(typed: str, least_s: float = 60.0, unit: str = "h") -> float:
    """Return a time in s: `"8 h"`, `"45 MIN"`, `"1,5 Stunden"`, `"1h30"`.

    Parameters
    ----------
    unit : str
        What is likely meant where a bare number is typed.

    Raises
    ------
    UsageError
        If it is none, has no unit, is shorter than `least_s` or longer than `LONGEST_S`.
    """
    rest = typed.strip().casefold()
    total_s = unit_s = 0.0
    while part := _TIME.match(rest):
        number = float(part[1].replace(",", "."))
        if not part[2] and not unit_s:
            break
        # "1h30": what stands behind hours without a unit is minutes.
        unit_s = _SECONDS_IN.get(part[2], 0.0) if part[2] else unit_s / 60
        if not unit_s:
            break
        total_s += number * unit_s
        rest = rest[part.end() :]
    if rest or not total_s:
        if re.fullmatch(r"\d+(?:[.,]\d+)?", rest):
            raise UsageError(
                msg("{typed} of what? Type {typed} {unit} or {typed} min", typed=rest, unit=unit)
            )
        raise UsageError(
            msg("{typed} is not a time; type it like 45 min or 8 h", typed=repr(typed.strip()))
        )
    if not least_s <= total_s <= LONGEST_S:
        raise UsageError(
            msg(
                "{typed}: type a time between {least} and {most}",
                typed=typed.strip(),
                least=Amount(least_s, "s"),
                most=write_duration(LONGEST_S),
            )
        )
    return total_s


def start_time(typed: str) -> float:
    """Return how long a start takes, s; see `time_of`."""
    return time_of(typed, least_s=1.0, unit="s")


def yes_no_open(typed: str) -> bool | None:
    """Return a yes or a no; None where the question is left open.

    Raises
    ------
    UsageError
        If it is neither.
    """
    if is_open(typed):
        return None
    answer = understood(Question("", NOTHING_SAID, "yes/no"), typed)
    if answer is None:
        raise UsageError(msg("{typed} is neither yes nor no, nor open", typed=repr(typed.strip())))
    return answer == "yes"


def limits_of(spots: Sequence[str]) -> Callable[[str], Mapping[str, float]]:
    """Return what reads a highest temperature in degC for each spot, in their order."""

    def read(typed: str) -> Mapping[str, float]:
        if is_open(typed):
            return {}
        # One number may hold a blank before its unit; several are parted by ";" or blanks.
        bare = re.sub(r"(?<=\d)\s*°?\s*(degc|c)\b", "", typed.strip(), flags=re.IGNORECASE)
        parts = [typed] if len(spots) == 1 else re.split(r"\s*;\s*|,\s+|\s+", bare)
        if len(parts) != len(spots):
            raise UsageError(
                msg(
                    "{typed}: type {count} temperatures in this order: {spots}; ? leaves one open",
                    typed=repr(typed.strip()),
                    count=str(len(spots)),
                    spots=joined(", ", spots),
                )
            )
        given = {spot: _degc(part) for spot, part in zip(spots, parts, strict=True)}
        return {spot: degc for spot, degc in given.items() if degc is not None}

    return read


def _degc(typed: str) -> float | None:
    """Return a temperature in degC that a limit may be; None where it is left open."""
    if is_open(typed):
        return None
    if why := fahrenheit(typed):
        raise UsageError(why)
    degc = understood(Question("", NOTHING_SAID, "number", unit="degC"), typed)
    if not isinstance(degc, float) or not -50 < degc < 300:
        raise UsageError(
            msg("{typed} is no temperature in °C, such as 80", typed=repr(typed.strip()))
        )
    return degc


def choice_of(words: Mapping[str, Sequence[str]]) -> Callable[[str], str]:
    """Return what reads one of some words, each with what else people type for it."""
    known = {said.casefold(): word for word, others in words.items() for said in (word, *others)}

    def read(typed: str) -> str:
        said = typed.strip().casefold()
        if said in known:
            return known[said]
        begun = {word for other, word in known.items() if said and other.startswith(said)}
        if len(begun) == 1:
            return begun.pop()
        raise UsageError(_none_of(typed, list(words), nearest_name(said, list(known))))

    return read


def _none_of(typed: str, words: Sequence[str], nearest: str) -> Message:
    hint = msg("type one of: {words}", words=joined(", ", words))
    if nearest:
        hint = msg("did you mean {nearest}?", nearest=nearest)
    return msg("{typed} is none of them; {hint}", typed=repr(typed.strip()), hint=hint)
