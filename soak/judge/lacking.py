"""What must be run again, and for how long, so that what was not shown can be shown."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from soak.derive.course import Course
from soak.judge.judging import lack_of
from soak.names import named
from soak.rules.core.verdict import Finding, Verdict
from soak.words import Amount, Message, all_of, counted, just, msg


@dataclass(frozen=True, slots=True)
class RunAgain:
    """What one stretch lacks.

    Attributes
    ----------
    stretch : str
        Its name; empty: the whole soak.
    number : int
        Its place in the script from 1 on; 0 for the whole soak.
    lacks_s : float or None
        Observed time that is lacking, s; None where a number of starts is lacking.
    lacks_starts : int or None
        Starts that are lacking.
    whole_s : float or None
        Length of the whole stretch, s.
    whole_starts : int or None
        All starts of the stretch.
    unbroken : bool
        Whether it needs one run without a break.
    adds_up : bool
        Whether time of other soaks of the job counts along.
    requirements : tuple of str
        Ids of the requirements that lack it.
    """

    stretch: str
    number: int
    lacks_s: float | None = None
    lacks_starts: int | None = None
    whole_s: float | None = None
    whole_starts: int | None = None
    unbroken: bool = False
    adds_up: bool = False
    requirements: tuple[str, ...] = ()


def to_run_again(findings: Sequence[Finding], newest: Course) -> list[RunAgain]:
    """Return what to run again, a stretch each, in the order of the script.

    What was not shown for another reason (a limit inside the accuracy, a relay that does not
    switch) is not put right by running on and is left out.
    """
    entries = newest.header.script.stretches
    places = {str(entry.name): at for at, entry in enumerate(entries, 1)}
    lengths = {str(entry.name): entry.lasts_s for entry in entries}
    by_cause: dict[tuple[str, bool], RunAgain] = {}
    for finding in findings:
        if finding.verdict != Verdict.NOT_SHOWN:
            continue
        lacks = lack_of(finding, lengths.get(finding.requirement.stretch))
        if lacks is None:
            continue
        stretch = finding.requirement.stretch
        own = RunAgain(
            stretch=stretch,
            number=places.get(stretch, 0),
            requirements=(finding.requirement.id,),
            **asdict(lacks),
        )
        key = (stretch, own.adds_up)
        by_cause[key] = _both(by_cause[key], own) if key in by_cause else own
    return sorted(by_cause.values(), key=lambda again: (again.number, again.adds_up))


def _both(one: RunAgain, other: RunAgain) -> RunAgain:
    return RunAgain(
        stretch=one.stretch,
        number=one.number,
        lacks_s=_larger(one.lacks_s, other.lacks_s),
        lacks_starts=_larger(one.lacks_starts, other.lacks_starts),
        whole_s=_larger(one.whole_s, other.whole_s),
        whole_starts=_larger(one.whole_starts, other.whole_starts),
        unbroken=one.unbroken or other.unbroken,
        adds_up=one.adds_up,
        requirements=(*one.requirements, *other.requirements),
    )


def _larger(one: Any, other: Any) -> Any:
    return max((part for part in (one, other) if part is not None), default=None)


def in_words(again: RunAgain, *, resumable: bool) -> Message:
    """Say it in one line.

    Parameters
    ----------
    resumable : bool
        Whether the soak is not sealed, so that `soak resume` adds to what it has.
    """
    return msg("{where}: {what}", where=_where(again), what=_what(again, resumable))


def _where(again: RunAgain) -> Message:
    if not again.number:
        return msg("the whole soak")
    return msg("stretch {number}, {stretch}", number=again.number, stretch=named(again.stretch))


def _what(again: RunAgain, resumable: bool) -> Message:
    more = _amount(again.lacks_s, again.lacks_starts)
    if again.adds_up:
        return msg("{more} more; quiet time of all soaks of the job adds up", more=more)
    if again.unbroken and again.whole_s:
        return msg(
            "{whole} in one run without a break; pieces of it show nothing",
            whole=Amount(again.whole_s, "s"),
        )
    if resumable:
        return msg("{more} more (`soak resume`)", more=more)
    whole = _amount(again.whole_s, again.whole_starts)
    if whole == more:
        return msg("once more, {whole}", whole=whole)
    return msg("once more, {whole}; of it {more} are lacking", whole=whole, more=more)


def _amount(length_s: float | None, starts: int | None) -> Message:
    return all_of(
        [
            None if length_s is None else just(Amount(length_s, "s")),
            None if starts is None else counted(starts, "1 start", "{count} starts"),
        ]
    )
