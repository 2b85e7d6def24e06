"""What a state means, said once: lost, dark, alive, unseen, and how long a start may take.

Instruments say what they see (`records.State`); checks, runner, judgement, screen and drawings ask
here what it means. Where two of them must differ, the difference has a name and a reason here.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from soak.frozen.references import StartTimes
from soak.frozen.sheet import ModelSheet

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
_PORT_LOST = frozenset({GONE})


def lost(source: str, sheet: ModelSheet) -> frozenset[str]:
    """Return the states of a source that are a loss while the unit runs.

    A picture that stands still is one only where the model sheet promises motion; a black one is
    none where the screen may blank.
    """
    if source != "capture":
        return _PORT_LOST
    return _PICTURE_LOST.get(sheet.picture_when_on, _PICTURE_LOST["moving"])


def works(source: str) -> frozenset[str]:
    """Return the states of a source that show contact at the port it is at."""
    return SHOWN if source == "capture" else frozenset({SEEN})


def shows_off(state: str) -> bool | None:
    """Tell whether a state of the capture shows the unit off; None where it shows neither."""
    return True if state in DARK else False if state in ALIVE else None


GONE_WITHIN_S = 10.0
"""So soon after the power goes the unit must be seen to go, s. Our own choice: what holds it up on
its capacitors is gone by then."""

SHOWS_WITHIN_S = 3.0
"""So soon after a short break of the power its effect is seen, if it has any, s. Our own choice."""

EPISODE_GAP_S = 2.0
"""Losses or faults of a picture closer than this are one, s: contacts bounce. Common practice."""

USUAL_START_S = 20.0
"""Taken for the usual time from power to picture where no model sheet tells it. Our own choice."""

OVER_USUAL = 1.5
"""A good start takes at most so many times what is usual for the model, and a margin. Our own
choice: a unit that takes twice what its model takes is not like its model."""

MARGIN_S = 10.0
"""Added to that. Common practice, no standard."""

OVER_OWN = 2.0
"""As much, of the unit's own first starts: few, so they are taken less at their word. Our own
choice."""

FEWEST_LIKE = 3
"""So many other units of the model must have been found ready before their starts count. Our own
choice: fewer may be of one bad batch."""

PATIENCE = 2.0
"""Where only the bench is in question a start gets so many times its limit. Our own choice."""


def usual_start_s(sheet: ModelSheet) -> float:
    """Return the usual time from power to picture by the model sheet, s."""
    return sheet.start_s or USUAL_START_S


def longest_start_s(usual_s: float) -> float:
    """Return the longest time that a good start takes where only the usual one is known, s."""
    return OVER_USUAL * usual_s + MARGIN_S


@dataclass(frozen=True, slots=True)
class StartLimit:
    """The longest time that a good start takes, and who says so.

    Attributes
    ----------
    limit_s : float
        From power to picture, s.
    says : str
        Who: `script` and `model sheet` state it, or a `demand` that does not tell which; from the
        model's `usual start`, from `units like it` or the unit's `own starts` it is reckoned.
    of : float
        What it is reckoned from: the usual time, s, or the number of units.
    """

    limit_s: float
    says: str
    of: float = 0.0

    @property
    def stated(self) -> bool:
        """Whether somebody stated it: then nothing that is reckoned changes it."""
        return self.says in ("demand", "script", "model sheet")


def start_limit(
    sheet: ModelSheet, stated_s: float | None = None, like: Sequence[StartTimes] = ()
) -> StartLimit:
    """Return the longest time that a good start takes, by what is known before the soak.

    The shorter of what script and model sheet state; where they are silent, `longest_start_s` of
    the sheet's usual time, and of that of units like it where that is shorter: never longer, or
    each slow unit would let the next be slower.

    Parameters
    ----------
    stated_s : float or None
        As a script states it.
    like : sequence of StartTimes
        The starts of other units of the model.
    """
    stated = [(stated_s, "script"), (sheet.start_limit_s, "model sheet")]
    given = [StartLimit(float(limit_s), says) for limit_s, says in stated if limit_s is not None]
    if given:
        return min(given, key=_limit_s)
    usual_s = usual_start_s(sheet)
    limits = [StartLimit(longest_start_s(usual_s), "usual start", usual_s)]
    if len(like) >= FEWEST_LIKE:
        median_s = statistics.median(model.median_s for model in like)
        limits.append(StartLimit(longest_start_s(median_s), "units like it", len(like)))
    return min(limits, key=_limit_s)


def stated_start_limit_s(sheet: ModelSheet, stated_s: float | None) -> float | None:
    """Return the limit that script or model sheet state, the shorter, s; None if neither does."""
    limit = start_limit(sheet, stated_s)
    return limit.limit_s if limit.stated else None


def drawn_closer(limit: StartLimit, own_s: Sequence[float]) -> StartLimit:
    """Return the limit as the unit's own first starts draw it closer: never further, never a stated
    one.

    Parameters
    ----------
    own_s : sequence of float
        How long they took, s.
    """
    if limit.stated or not own_s:
        return limit
    own = StartLimit(OVER_OWN * statistics.median(own_s) + MARGIN_S, "own starts")
    return min(limit, own, key=_limit_s)


def _limit_s(limit: StartLimit) -> float:
    return limit.limit_s


def patient_start_limit_s(sheet: ModelSheet) -> float:
    """Return how long a start is waited for where it is not judged, s.

    A slow unit is no reason to call a bench blind, nor to move its plug before it shows anything.
    """
    return PATIENCE * start_limit(sheet).limit_s
