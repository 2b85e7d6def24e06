"""Terms: the typed parameters of a demand, as a rule reads them and a journal's header keeps them.

Terms that one rule knows alone stand beside it; here are those that several rules or the
derivation from records share.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import Enum
from typing import Any, TypeVar, cast, dataclass_transform

from pydantic import ConfigDict, TypeAdapter, ValidationError

from soak.records import Json, Requirement

T = TypeVar("T")


class Wrong(Enum):
    """What is wrong with a key of terms."""

    MISSING = "missing"
    UNKNOWN = "unknown"
    IMPOSSIBLE = "impossible"


class TermsError(ValueError):
    """Report terms that cannot be read.

    Parameters
    ----------
    key : str
        The first key that is wrong, `"movements.1"`.
    kind : Wrong
    """

    def __init__(self, key: str, kind: Wrong) -> None:
        self.key = key
        self.kind = kind
        super().__init__(f"{key} is {kind.value}")


@dataclass_transform(frozen_default=True, kw_only_default=True)
def terms(cls: type[T]) -> type[T]:
    """Make a class of terms: frozen, named in words only, nothing unknown in it."""
    cls.__pydantic_config__ = ConfigDict(extra="forbid")  # type: ignore[attr-defined]  # pydantic's own name
    return dataclass(frozen=True, slots=True, kw_only=True)(cls)


def terms_from(cls: type[T], params: Json) -> T:
    """Read terms as they stand in a header.

    Raises
    ------
    TermsError
        If a key is missing, unknown or impossible.
    """
    try:
        read: T = _adapter(cls).validate_python(dict(params))
        return read
    except ValidationError as fault:
        first = fault.errors()[0]
        where = ".".join(map(str, first["loc"]))
        raise TermsError(where, _WRONG.get(first["type"], Wrong.IMPOSSIBLE)) from None


def part_from(cls: type[T], params: Json) -> T:
    """Read those terms out of parameters that may hold more, as those of a rule built on them do.

    Raises
    ------
    ValueError
        As `terms_from`.
    """
    known = {field.name for field in fields(cast(Any, cls))}
    return terms_from(cls, {key: value for key, value in params.items() if key in known})


def params_of(told: object) -> dict[str, Any]:
    """Write terms as they stand in a header; what is not stated is left out."""
    written: dict[str, Any] = _adapter(type(told)).dump_python(told, mode="json", exclude_none=True)
    return written


@terms
class LossTerms:
    """What counts as a loss of the picture.

    Attributes
    ----------
    bad : tuple of str or None
        States that are a loss; None: as the model sheet's `picture_when_on` says.
    at_least_s, episode_gap_s : float
        Shortest loss that counts by itself; losses so close are one episode.
    usual_start_s : float or None
        Usual time from power to picture, s.
    """

    bad: tuple[str, ...] | None = None
    at_least_s: float = 0.2
    episode_gap_s: float = 2.0
    usual_start_s: float | None = None


@terms
class UnitTerms(LossTerms):
    """What counts as lost and how long a start may take where no demand says otherwise.

    Resolved once, when a soak is planned, and kept in its header.

    Attributes
    ----------
    start_limit_s : float or None
        Longest time from power to picture, s; None: as the model sheet's usual time gives it.
    start_limit_from : str or None
        Who says so, by the words of `states.StartLimit`; None: it was not told.
    start_limit_of : float or None
        What it is reckoned from, as there.
    """

    start_limit_s: float | None = None
    start_limit_from: str | None = None
    start_limit_of: float | None = None


@terms
class CountedTerms:
    """What of a demand's parameters says how it is counted, whatever its rule.

    Attributes
    ----------
    plan : mapping or None
        The sequential plan that decides it, frozen; `statistics.frozen` reads it.
    kinds : tuple of str or None
        Kinds of start that count.
    at_least_s : float
        A loss so long counts by itself, s.
    """

    plan: Mapping[str, Any] | None = None
    kinds: tuple[str, ...] | None = None
    at_least_s: float = 0.0


def counted_by(requirement: Requirement) -> CountedTerms:
    """Return how a demand is counted; of one that this version cannot read, nothing.

    Its own rule says which key it cannot read.
    """
    try:
        return part_from(CountedTerms, requirement.params)
    except ValueError:
        return CountedTerms()


@terms
class StartTerms:
    """Which starts count, and how long a good one takes.

    Attributes
    ----------
    start_limit_s, usual_start_s : float or None
        Longest and usual time from power to picture, s; None: as the header says (`UnitTerms`).
    kinds : tuple of str
        Kinds of start that count.
    promised : int or None
        So many are made; None: as the script says.
    power_check : str
        The check that makes them.
    """

    start_limit_s: float | None = None
    usual_start_s: float | None = None
    kinds: tuple[str, ...] = ("warm", "cold")
    promised: int | None = None
    power_check: str = "power_cycles"


@terms
class SpotTerms:
    """The spot that is measured, as the model sheet calls it."""

    spot: str = ""


@terms
class MovedTerms:
    """How the plug of a port is moved, and what watches the port meanwhile.

    Attributes
    ----------
    port : str
        The unit's port, as the model sheet calls it.
    heat : str
        How warm the unit is to be: `"cold"` or `"hot"`.
    sources : tuple of str
        What sees whether the port works: `"capture"`, `"link"`, `"stick"`, `"probe.NAME"`.
    bad : tuple of str or None
        States of the picture that are a loss; None: as the model sheet's `picture_when_on` says.
    movements : tuple of str
        The movements,
    repeats : int
        how often each is made,
    dwell_s, pause_s : float
        how long it lasts, and how long the plug is let go before the next, s.
    rest_s : float
        Hands off at first, s.
    moved_by : str
        `"hand"` or `"servo"`.
    force_n : float or None
        How hard it moves the plug, N; None: not measured, or not stated.
    episode_gap_s : float
        Losses so close are one episode, s.
    usual_start_s : float or None
        Usual time from power to picture, s.
    """

    port: str = ""
    heat: str = ""
    sources: tuple[str, ...] = ()
    bad: tuple[str, ...] | None = None
    movements: tuple[str, ...]
    repeats: int
    dwell_s: float
    pause_s: float = 0.0
    rest_s: float
    moved_by: str = "hand"
    force_n: float | None = None
    episode_gap_s: float = 2.0
    usual_start_s: float | None = None


_WRONG = {"missing": Wrong.MISSING, "unexpected_keyword_argument": Wrong.UNKNOWN}
"""Kinds of fault by what pydantic calls them."""

_ADAPTERS: dict[type, TypeAdapter[Any]] = {}
"""Made at first use: forty at once would take longer than most judgements."""


def _adapter(cls: type) -> TypeAdapter[Any]:
    if cls not in _ADAPTERS:
        _ADAPTERS[cls] = TypeAdapter(cls)
    return _ADAPTERS[cls]
