"""Power that was on with no guard running: how long, and whether the unit stayed on."""

from soak.derive.course import Course
from soak.marks import Unguarded, facts
from soak.records import Mark
from soak.words import Amount, Message, msg


def unguarded(course: Course) -> list[tuple[float, Message]]:
    """Return when that began, and what is to be said of it, in order of time."""
    return [(fact.from_s, _told(mark, fact)) for mark, fact in facts(course, Unguarded)]


def _told(mark: Mark, told: Unguarded) -> Message:
    length = Amount(mark.t_s - told.from_s, "s")
    if told.by == "runner":
        return msg(
            "the power was on with no guard running for {length}: the guard died, and the soak "
            "program switched off",
            length=length,
        )
    found_on = told.found_on
    if found_on is None:
        return msg(
            "no guard ran for {length} after the power was last on: nobody switched it off, and "
            "the switch cannot say whether the unit stayed on",
            length=length,
        )
    if found_on:
        return msg(
            "the power was on with no guard running for {length}: the unit was still on when the "
            "soak went on",
            length=length,
        )
    return msg(
        "no guard ran for {length} after the power was last on: when the soak went on the power "
        "was off, and nobody knows since when",
        length=length,
    )
