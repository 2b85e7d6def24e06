"""What a state means, said once: lost, dark, alive, unseen, and how long a start may take.

Instruments say what they see (`records.State`); checks, runner, judgement, screen and drawings ask
here what it means. Where two of them must differ, the difference has a name and a reason here.
"""

from soak.records import Json

BLIND = "blind"
"""The reserved state: the bench could not see. Never against the unit and never for it."""

PROTECTED = "protected output"
"""The unit sends its picture encrypted, and no capture can see it: no fault and no evidence."""

UNSEEN = frozenset({BLIND, PROTECTED})
"""States in which nothing can be said of the unit."""

PICTURE = "picture"
"""What ends a start: nothing else of what a capture sees will do."""

BLACK = "black"
NO_SIGNAL = "no signal"
FROZEN = "frozen"
STALLED = "stalled"
OTHER_SIZE = "other size"
"""What else a capture may see."""

SEEN = "seen"
GONE = "gone"
"""What a stick, a link and all else may be seen to be."""

SHOWN = frozenset({PICTURE, FROZEN})
"""The unit's picture reaches the bench, whether it moves or not: so much shows that a port works.
"""

DARK = frozenset({NO_SIGNAL, BLACK})
"""What a capture sees of a unit that is off, and of one that has only just begun to start."""

ALIVE = SHOWN | {OTHER_SIZE, PROTECTED}
"""What only a unit that runs can show. Between `DARK` and this is what shows neither: blind, and
stalled, as some cards deliver nothing at all without a signal."""

WENT = DARK | {STALLED}
"""The picture went and did not merely stand still or change: what a restart goes through."""

UNPLUGGED = WENT | {OTHER_SIZE}
"""What a capture sees of a pulled plug: some cards show a picture of their own without one."""

DISTURBED = UNPLUGGED | {FROZEN}
"""What right after a break of the supply is the break's effect, whatever the model promises: also a
screen that may blank does not blank by chance within those few seconds."""

_PICTURE_LOST = {
    "moving": DISTURBED,
    "still": UNPLUGGED,
    "may blank": UNPLUGGED - {BLACK},
}
_PORT_LOST = {"stick": frozenset({GONE}), "link": frozenset({GONE})}

LOSABLE = ("capture", *_PORT_LOST)
"""Sources of which a state can be a loss."""


def lost(source: str, sheet: Json) -> frozenset[str]:
    """Return the states of a source that are a loss while the unit runs.

    A picture that stands still is one only where the model sheet promises motion; a black one is
    none where the screen may blank.
    """
    if source != "capture":
        return _PORT_LOST.get(source, frozenset())
    return _PICTURE_LOST.get(str(sheet.get("picture_when_on")), _PICTURE_LOST["moving"])


def works(source: str) -> frozenset[str]:
    """Return the states of a source that show contact at the port it is at."""
    return SHOWN if source == "capture" else frozenset({SEEN})


def shows_off(state: str) -> bool | None:
    """Tell whether a state of the capture shows the unit off; None where it shows neither."""
    return True if state in DARK else False if state in ALIVE else None


USUAL_START_S = 20.0
"""Taken for the usual time from power to picture where no model sheet tells it. Our own choice."""

MARGIN_S = 10.0
"""Added to twice the usual start where no limit is given. Common practice, no standard."""

PATIENCE = 1.5
"""Where only the bench is in question a start gets so many times its limit. Our own choice."""


def usual_start_s(sheet: Json) -> float:
    """Return the usual time from power to picture by the model sheet, s."""
    return float(sheet.get("start_s") or USUAL_START_S)


def longest_start_s(usual_s: float) -> float:
    """Return the longest time that a good start takes where only the usual one is known, s."""
    return 2 * usual_s + MARGIN_S


def start_limit_s(
    sheet: Json, stated_s: float | None = None, usual_s: float | None = None
) -> float:
    """Return the longest time that a good start takes, s.

    Parameters
    ----------
    stated_s : float or None
        As a script states it; None: the model sheet's.
    usual_s : float or None
        The usual time, where neither says a limit; None: the model sheet's. The judgement has
        starts to go by (`derive.starts`).
    """
    limit_s = stated_s if stated_s is not None else sheet.get("start_limit_s")
    if limit_s is not None:
        return float(limit_s)
    return longest_start_s(usual_start_s(sheet) if usual_s is None else usual_s)


def patient_start_limit_s(sheet: Json) -> float:
    """Return how long a start is waited for where it is not judged, s.

    A slow unit is no reason to call a bench blind, nor to move its plug before it shows anything.
    """
    return PATIENCE * start_limit_s(sheet)
