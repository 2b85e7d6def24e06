"""Decision rules at a limit: simple, or with the instrument's accuracy kept clear of it.

References
----------
JCGM 106:2012, The role of measurement uncertainty in conformity assessment; ILAC-G8:09/2019,
Guidelines on decision rules. The guard band's width is the instrument's stated accuracy.
"""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.seeing.coverage import Coverage
from soak.records import Json, Requirement
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.verdict import Finding, Pointer
from soak.words import Amount, Message, msg, sentence

SIMPLE = msg("compared with the limit as read (simple acceptance, ILAC-G8:09/2019)")
GUARDED = msg("the accuracy kept clear of the limit (guard band, JCGM 106:2012, ILAC-G8:09/2019)")


def accuracy_of(course: Course, quantity: str) -> float | None:
    """Return the stated accuracy of a quantity in its measurement unit; None if not stated."""
    known = (entry for entry in course.header.quantities if entry.name == quantity)
    entry = next(known, None)
    return entry.accuracy if entry else None


def guarded(
    need: Requirement,
    value: float,
    margin: float,
    accuracy: float | None,
    told: Message,
    covered: Sequence[Coverage],
    pointers: Sequence[Pointer],
    detail: Json,
) -> Finding:
    """Settle a guarded requirement: within the accuracy of the limit nothing is shown.

    Running on would not put that right, so such a finding covers nothing.

    Parameters
    ----------
    margin : float
        Distance to the limit, positive on the good side.
    accuracy : float or None
        Half-width of the instrument's error.
    told : Message
        What was found, in small letters and without a full stop.
    """
    if accuracy is None:
        why = msg("the fixture does not state the accuracy of the instrument; add it and run again")
        return not_shown(need, why, Value(value, margin=margin), pointers=pointers, detail=detail)
    number = Value(value, value - accuracy, value + accuracy, margin, method=GUARDED)
    if abs(margin) < accuracy:
        why = msg(
            "{told}, which is closer than the accuracy of {accuracy}",
            told=told,
            accuracy=Amount(accuracy, need.unit),
        )
        return not_shown(need, why, number, pointers=pointers, detail=detail)
    return settle(
        need,
        margin >= 0,
        sentence(told),
        found=number,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )
