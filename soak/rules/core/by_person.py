"""Who judged what no instrument did."""

from collections.abc import Sequence

from soak.marks import Answered, fact_as
from soak.records import Mark
from soak.words import Message, all_of, msg


def by_hand(answers: Sequence[Mark]) -> Message:
    """Say who judged by hand, by the initials in the marks of the answers."""
    who = _initials(answers)
    return msg("by hand, by {who}", who=all_of(who)) if who else msg("by hand, without initials")


def by_eye(answers: Sequence[Mark]) -> Message:
    """Say who judged by eye, by the initials in the marks of the answers."""
    who = _initials(answers)
    return msg("by eye, by {who}", who=all_of(who)) if who else msg("by eye, without initials")


def _initials(answers: Sequence[Mark]) -> list[str]:
    initials_ = (fact_as(mark, Answered).initials for mark in answers)
    return [initials for initials in dict.fromkeys(initials_) if initials]
