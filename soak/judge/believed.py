"""What a demand rests on, and whether that was an instrument, proved on this unit.

The one place where it costs a grade: what a recording, an ordinary file or a pseudo-terminal showed
speaks neither for a unit nor against it; what an instrument showed that was never proved on it does
not speak for it.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from soak.derive.course import Course
from soak.derive.seeing.proved import proved
from soak.frozen.fixture import Fixture
from soak.frozen.wiring import role_of
from soak.instruments import WATCHES
from soak.names import named
from soak.natures import KINDS, NO_INSTRUMENT, Nature, nature_of, was_looked_at, what_it_is_known_by
from soak.records import Json, Requirement
from soak.words import NOTHING_SAID, Day, Message, all_of, msg

_TO_BE_PROVED = frozenset({"switch", "capture", "stick", "probe", *WATCHES})
"""Roles whose instruments a soak or `soak prove` can prove; the others are judged by these."""


def no_instrument(need: Requirement, course: Course) -> Message:
    """Say what a demand rests on in a soak that is no instrument; empty if all are."""
    fixture = course.header.fixture
    sources = list(_rests_on(need, fixture.wired))
    # Whether the unit had power at all is known from the switch.
    sources = [*(["switch"] if sources and fixture.switch else []), *sources]
    return all_of(
        what_it_is(fixture, source)
        for source in dict.fromkeys(sources)
        if nature_of(fixture, source) in NO_INSTRUMENT
    )


def never_proved(need: Requirement, course: Course) -> Message:
    """Say what a demand rests on in a soak that was never proved on this unit; empty if nothing."""
    fixture = course.header.fixture
    return all_of(
        _never(source)
        for source in _rests_on(need, fixture.wired)
        if must_be_proved(fixture, source) and not how_proved(source, course)
    )


def doubt(need: Requirement, course: Course) -> Message:
    """Say why what a demand rests on shows nothing of the unit; empty if it does."""
    return no_instrument(need, course) or never_proved(need, course)


def must_be_proved(fixture: Fixture, source: str) -> bool:
    """Tell whether an instrument counts only once it is proved; a hand is its own witness."""
    to_be_proved = role_of(source) in _TO_BE_PROVED and was_looked_at(fixture, source)
    return to_be_proved and nature_of(fixture, source) is not Nature.HAND


def doubted(courses: Sequence[Course]) -> list[Message]:
    """Say of a job's instruments which are none, and which no soak of it proved, each once."""
    doubts: dict[Message, bool] = {}
    for course in courses:
        fixture = course.header.fixture
        for source in fixture.wired:
            if nature_of(fixture, source) in NO_INSTRUMENT:
                doubts[what_it_is(fixture, source)] = True
            elif must_be_proved(fixture, source):
                doubts.setdefault(_never(source), True)
                doubts[_never(source)] &= not how_proved(source, course)
    return [sentence for sentence, holds in doubts.items() if holds]


def how_proved(source: str, course: Course) -> Message:
    """Say how an instrument was proved on this unit: in the soak itself, or just before it."""
    how = proved(course, source)
    began = course.sessions()
    if not how or not began:
        return how or _beforehand(source, course)
    return msg("proved on {day}: {how}", day=Day(began[0].utc), how=how)


def _beforehand(source: str, course: Course) -> Message:
    """Say how `soak prove` proved it, as frozen in the header; of another instrument nothing."""
    proved = course.header.references.proved
    what = None if proved is None else proved.by.get(source)
    if (
        proved is None
        or not what
        or proved.is_.get(source) != what_it_is_known_by(course.header.fixture, source)
    ):
        return NOTHING_SAID
    return msg("proved on {day} by: {what}", day=Day(proved.on), what=named(what))


def what_it_is(fixture: Fixture, source: str) -> Message:
    """Say what an instrument is: `the capture is a recording`."""
    kind = KINDS[nature_of(fixture, source)]
    name = source.removeprefix("probe.")
    if name != source:
        return msg("the probe {name} is {kind}", name=named(name), kind=kind)
    return msg("the {instrument} is {kind}", instrument=named(source), kind=kind)


def _never(source: str) -> Message:
    name = source.removeprefix("probe.")
    if name != source:
        return msg("the probe {name} was never proved on this unit", name=named(name))
    return msg("the {instrument} was never proved on this unit", instrument=named(source))


def _rests_on(need: Requirement, entries: Sequence[str] | Json) -> Iterator[str]:
    """Yield the instruments that the evidence for a demand comes from."""
    named_there = {need.quantity, *_texts(need.params.values())}
    probes = [source for source in entries if role_of(source) == "probe"]
    meant = [source for source in probes if source in named_there]
    for source in entries:
        role = role_of(source)
        if role == "probe":
            if "probe" in need.needs and (source in meant or not meant):
                yield source
        elif role in need.needs:
            yield source


def _texts(values: Iterable[Any]) -> Iterator[str]:
    for value in values:
        if isinstance(value, str):
            yield value
        elif isinstance(value, list | tuple):
            yield from _texts(value)
