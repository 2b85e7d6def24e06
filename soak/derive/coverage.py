"""Whether a soak observed what a requirement was promised."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.spans import Span, common, longest_s, minus, total_s
from soak.quantities import show_duration
from soak.records import Json, Requirement

BY_PLAN = ("accepted by plan", "rejected by plan")
"""Why a stretch ends that a sequential plan ended; as good as done for what else runs in it."""

ROUNDING_S = 2.0
"""A stretch may end so much early: states and marks are batched. Our own choice."""

_PROTECTED = (
    "the unit sent its picture as protected output, which no capture can see: have it show "
    "something that is not protected, and run again"
)


@dataclass(frozen=True, slots=True)
class Coverage:
    """What of a stretch one soak observed.

    Attributes
    ----------
    promised_s : float or None
        How long the script says it lasts; None if it is a count.
    observed_s, blind_s, longest_blind_s : float
        Seconds seen, not seen, and not seen at one time.
    why : str
        Why it is not enough, in plain words; empty if it is.
    """

    promised_s: float | None
    observed_s: float
    blind_s: float
    longest_blind_s: float
    why: str

    @property
    def enough(self) -> bool:
        """Whether the evidence is as promised."""
        return not self.why

    def as_json(self) -> Json:
        """Return the figures as a finding's detail."""
        return {
            "promised_s": self.promised_s,
            "observed_s": round(self.observed_s, 3),
            "blind_s": round(self.blind_s, 3),
            "longest_blind_s": round(self.longest_blind_s, 3),
        }


def coverage(course: Course, requirement: Requirement, unseen: Sequence[Span]) -> Coverage:
    """Tell how much of a requirement's stretch was observed, and whether that is enough.

    Parameters
    ----------
    unseen : sequence of (float, float)
        When the bench did not see what the requirement is about.
    """
    windows = course.windows(requirement.stretch)
    holes = common(windows, unseen)
    observed = minus(windows, holes)
    promised_s = promised_length_s(course, requirement.stretch)
    share = total_s(holes) / total_s(windows) if total_s(windows) > 0 else 0.0
    why = (
        _not_finished(course, requirement, promised_s, total_s(observed))
        or _too_long(longest_s(holes), requirement.longest_blind_s)
        or _too_much(share, requirement.blind_allowed)
    )
    hidden = total_s(common(holes, course.protected))
    if why and hidden > 0:
        why = f"for {show_duration(hidden)} {_PROTECTED}; {why}"
    return Coverage(promised_s, total_s(observed), total_s(holes), longest_s(holes), why)


def promised_length_s(course: Course, stretch: str) -> float | None:
    """Return how long the script says a stretch (all stretches, if unnamed) lasts, s.

    Of one that a sequential plan may end early it is the shortest that the plan allows.
    """
    lengths = [
        (entry.get("plan") or {}).get("shortest_s") or entry.get("lasts_s")
        for entry in course.header.script.get("stretches", ())
        if stretch in ("", entry.get("name"))
    ]
    known = [float(length) for length in lengths if length]
    return sum(known) if known else None


def _not_finished(
    course: Course, requirement: Requirement, promised_s: float | None, observed_s: float
) -> str:
    name = requirement.stretch
    if not course.windows(name):
        return f"the stretch {name} was never begun" if name else "nothing was recorded"
    ended = {
        mark.stretch: mark.detail.get("because", "done") for mark in course.marks("stretch ends")
    }
    planned = [str(entry.get("name")) for entry in course.header.script.get("stretches", ())]
    for stretch in [name] if name else planned:
        if stretch not in ended:
            return f"the stretch {stretch} did not come to its end"
        if ended[stretch] not in ("done", *BY_PLAN):
            return f"the stretch {stretch} ended early ({ended[stretch]})"
    if promised_s is not None:
        least_s = promised_s * (1 - requirement.blind_allowed) - ROUNDING_S
        if observed_s < least_s:
            if BY_PLAN[1] in (ended.get(stretch) for stretch in ([name] if name else planned)):
                return "a sequential plan rejected the unit and ended the stretch early"
            seen, promised = show_duration(observed_s), show_duration(promised_s)
            return f"only {seen} of {promised} were observed"
    return ""


def _too_long(longest_blind_s: float, allowed_s: float | None) -> str:
    if allowed_s is None or longest_blind_s <= allowed_s:
        return ""
    longest, allowed = show_duration(longest_blind_s), show_duration(allowed_s)
    return f"the bench was blind for {longest} at one time; {allowed} are allowed"


def _too_much(share: float, allowed: float) -> str:
    if share <= allowed:
        return ""
    return f"the bench was blind for {share:.1%} of the time; {allowed:.1%} are allowed"
