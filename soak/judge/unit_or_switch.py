"""A unit that never ran again though nothing told whether it had power: what other soaks say of it.

Dead again under another switch or channel, or under one that ran another unit meanwhile, it is the
unit. Alive under another, it was the switch. Until one of them is seen nobody knows, and a unit of
which nobody knows that is not ready.
"""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.seeing.alive import seen_alive_by
from soak.derive.seeing.coverage import dead_in
from soak.records import Header
from soak.words import Message, begin, msg


def switch_of(header: Header) -> tuple[str, ...]:
    """Return what tells one switch, and one channel of it, from another.

    A switch that is at no port of the bench's computer is told by its fixture.
    """
    fixture = header.fixture
    switch = fixture.switch
    if switch is None:
        return ("", "", "", "", "", fixture.name)
    at = fixture.own("switch")
    own = "" if at.port or at.hub else fixture.name
    return (switch.driver, at.port, at.hub, at.device, switch.channel, own)


def dead_again(courses: Sequence[Course]) -> list[Message]:
    """Say that the unit went dead under two switches, or under one that works: it is the unit."""
    dead = [course for course in courses if course.gone_dead is not None]
    for at, course in enumerate(dead):
        for earlier in dead[:at]:
            sentence = _blamed(earlier, course)
            if sentence:
                return [sentence]
    return []


def _blamed(earlier: Course, later: Course) -> Message | None:
    first = earlier.header.soak_id
    second = later.header.soak_id
    if switch_of(earlier.header) != switch_of(later.header):
        return msg(
            "the unit showed nothing any more in soak {first}, and again in soak {second} on "
            "another switch or channel: the unit failed, not the switch",
            first=first,
            second=second,
        )
    worked = later.header.references.switch_worked
    proof = next((proof for proof in worked if proof.after == first), None)
    if proof is None:
        return None
    return msg(
        "the unit showed nothing any more in soaks {first} and {second}, and between them the same "
        "channel ran unit {other} (soak {proof}): the unit failed, not the switch",
        first=first,
        second=second,
        other=proof.tag,
        proof=proof.soak_id,
    )


def nobody_knows(courses: Sequence[Course]) -> list[Message]:
    """Say of each soak in which unit or switch failed, and which nothing has told yet, what to try.

    A later soak in which the unit ran on another switch or channel has told it: it was the switch.
    """
    if dead_again(courses):
        return []
    return [
        msg("Soak {soak}: {what}.", soak=course.header.soak_id, what=begin(dead_in(course, "")))
        for at, course in enumerate(courses)
        if course.gone_dead is not None and not _cleared(course, courses[at + 1 :])
    ]


def _cleared(dead: Course, later: Sequence[Course]) -> bool:
    return any(
        course.gone_dead is None
        and switch_of(course.header) != switch_of(dead.header)
        and set(seen_alive_by(course)) - {"switch"}
        for course in later
    )
