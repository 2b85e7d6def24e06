"""What marks say, typed: one class a kind of mark, written by `made` and read by `fact_of`.

A `Mark` is a record, its detail JSON as the journal holds it; whoever makes or reads one goes by
the class of what it says. A key that a class does not know is passed over, so that journals of
other versions stay readable; one that is lacking has the default of its field.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, fields
from functools import cache
from typing import Any, ClassVar, Protocol, TypeVar, dataclass_transform

from soak.frozen import shape
from soak.frozen.shape import maybe as maybe
from soak.frozen.shape import read_as
from soak.records import Json, Mark
from soak.words import Message
from soak.words_json import said_again, with_said


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """What a mark says.

    Attributes
    ----------
    mark : str
        The name of the mark, as the journal has it.
    """

    mark: ClassVar[str] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreign(Fact):
    """What a mark says that only a check of other people knows."""

    data: Json


F = TypeVar("F", bound=Fact)

KINDS: dict[str, type[Fact]] = {}
"""The kinds of marks by their name in a journal, with what only the guard orders."""


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(maybe, field))
def mark(what: str) -> Any:
    """Name the mark that a class of facts is, and make it a frozen dataclass."""

    def named(cls: type[F]) -> type[F]:
        made_of = dataclass(frozen=True, slots=True, kw_only=True)(cls)
        made_of.mark = what
        KINDS[what] = made_of
        return made_of

    return named


class HasMarks(Protocol):
    """What marks can be asked of: evidence, a course."""

    def marks(self, what: str = "") -> Sequence[Mark]:
        """Return the marks of a kind, in order of time."""


def mark_of(t_s: float, fact: Fact, stretch: str = "", check: str = "") -> Mark:
    """Return the mark that says something.

    Parameters
    ----------
    t_s : float
        When it was so, s of soak time.
    stretch, check : str
        Where it was made.
    """
    return Mark(t_s, fact.mark, stretch, check=check, detail=as_json(fact))


def fact_of(mark: Mark) -> Fact:
    """Return what a mark says; `Foreign` where this program does not know it."""
    kind = KINDS.get(mark.what)
    return Foreign(data=mark.detail) if kind is None else fact_as(mark, kind)


def facts_in(marks: Iterable[Mark], kind: type[F]) -> Iterator[tuple[Mark, F]]:
    """Yield the marks of a kind among others, each with what it says."""
    for mark in marks:
        if mark.what == kind.mark:
            yield mark, fact_as(mark, kind)


def facts(of: HasMarks, kind: type[F]) -> Sequence[tuple[Mark, F]]:
    """Return the marks of a kind in order of time, each with what it says."""
    return [(mark, fact_as(mark, kind)) for mark in of.marks(kind.mark)]


def fact_in(record: object, kind: type[F]) -> F | None:
    """Return what a record says if it is a mark of a kind; else None."""
    if isinstance(record, Mark) and record.what == kind.mark:
        return fact_as(record, kind)
    return None


def fact_as(mark: Mark, kind: type[F]) -> F:
    """Return what a mark of a kind says.

    Raises
    ------
    ValueError
        If it lacks what its kind cannot do without.
    """
    detail = mark.detail
    if messages := _told(kind) & detail.keys():  # type: ignore[arg-type]  # a class can be hashed
        detail = said_again(detail, messages)
    try:
        return read_as(kind, detail)
    except ValueError as lacking:
        raise ValueError(f"the mark {mark.what!r} cannot be read: {lacking}") from None


def as_json(fact: Fact) -> Json:
    """Return what a mark says as plain JSON, as the journal has it."""
    if isinstance(fact, Foreign):
        return fact.data
    made = shape.as_json(fact)
    messages = {name: getattr(fact, name) for name in _told(type(fact)) & made.keys()}  # type: ignore[arg-type]  # as above
    return with_said({**made, **messages})


@cache
def _told(kind: type[Fact]) -> frozenset[str]:
    """Return the fields that tell people something."""
    return frozenset(field.name for field in fields(kind) if field.type is Message)
