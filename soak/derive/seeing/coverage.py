"""Whether a soak observed what a requirement was promised."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from soak.derive.course import Course
from soak.derive.events.dropouts import Dropout
from soak.derive.events.faults import lost_states, terms_of
from soak.derive.events.trips import why_cut
from soak.derive.events.wrong_data import refused_words
from soak.derive.said import dead_words
from soak.derive.seeing.alive import only_by_word
from soak.derive.seeing.holes import REOPENING_S
from soak.derive.spans import Span, common, holds, longest_s, merged, minus, total_s
from soak.instruments import LOSABLE
from soak.marks import StretchEnds, fact_as
from soak.names import named
from soak.records import Json, Requirement
from soak.words import NOTHING_SAID, Amount, Message, Percent, Said, counted, joined, msg

BY_PLAN = ("accepted by plan", "rejected by plan")
"""Why a stretch ends that a sequential plan ended; as good as done for what else runs in it."""

ROUNDING_S = 2.0
"""A stretch may end so much early: states and marks are batched. Our own choice."""

DOUBTFUL_AT_MOST, DOUBTFUL_AT_MOST_S = 3, REOPENING_S
"""So many losses beside holes, and so long together, s, are left to the bench; more of them may
hide what the unit does. Our own choice: no longer than one reopening."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """What of a stretch one soak observed.

    Attributes
    ----------
    promised_s : float or None
        How long the script says it lasts; None if it is a count.
    observed_s, blind_s, longest_blind_s : float
        Seconds seen, not seen, and not seen at one time.
    why : Message
        Why it is not enough, in small letters and without a full stop; empty if it is.
    by_word : bool
        Whether nothing but a person's word says that the unit was on.
    """

    promised_s: float | None
    observed_s: float
    blind_s: float
    longest_blind_s: float
    why: Message
    by_word: bool = False

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
        _cut_short(course, _not_finished(course, requirement, promised_s, total_s(observed)))
        or _too_long(longest_s(holes), requirement.longest_blind_s)
        or _too_much(share, requirement.blind_allowed)
        or _too_doubtful(in_doubt(course, requirement))
    )
    hidden = total_s(common(holes, course.protected))
    if why and (dead := dead_in(course, requirement.stretch)):
        why = dead
    if why and hidden > 0:
        why = joined("; ", [_protected(hidden), why])
    return Coverage(
        promised_s,
        total_s(observed),
        total_s(holes),
        longest_blind_s=longest_s(holes),
        why=why,
        by_word=only_by_word(course),
    )


def dead_in(course: Course, stretch: str) -> Message:
    """Say that in a stretch, or after it began, nobody knows whether a dead unit had power; empty
    if that is not so.
    """
    dead = course.gone_dead
    if dead is None or not common(course.windows(stretch), [(dead.from_s, dead.to_s)]):
        return NOTHING_SAID
    return dead_words(dead, course.starts, course.power)


def coverage_besides(
    course: Course,
    requirement: Requirement,
    unseen: Sequence[Span],
    hidden: Sequence[Span],
    why: Message,
) -> Coverage:
    """Tell the same where something hid what the requirement is about though the bench saw.

    Parameters
    ----------
    hidden : sequence of (float, float)
        When it was hidden.
    why : Message
        What is said where that alone is too much, in small letters and without a full stop.
    """
    seen = coverage(course, requirement, unseen)
    both = coverage(course, requirement, merged([*unseen, *hidden]))
    return replace(both, why=why) if seen.enough and not both.enough else both


def covered_while_written(
    course: Course, requirement: Requirement, unseen: Sequence[Span]
) -> Coverage:
    """Tell the same of what needs a stick that takes data; one that took no more shows nothing."""
    seen = coverage(course, requirement, unseen)
    refused = refused_words(course, requirement.stretch)
    return replace(seen, why=joined("; ", [refused, seen.why])) if refused else seen


def in_doubt(course: Course, requirement: Requirement) -> list[Dropout]:
    """Return the losses of a requirement's source within its stretch that a hole may explain."""
    source = requirement.quantity or "capture"
    if source not in LOSABLE:
        return []
    terms = terms_of(requirement, course.header)
    bad = terms.bad if source == "capture" else lost_states(source, course.header)
    windows = course.windows(requirement.stretch)
    return [
        loss
        for loss in course.losses(source, bad)
        if not loss.charged and loss.length_s >= terms.at_least_s and holds(loss.from_s, windows)
    ]


def promised_length_s(course: Course, stretch: str) -> float | None:
    """Return how long the script says a stretch (all stretches, if unnamed) lasts, s.

    Of one that a sequential plan may end early it is the shortest that the plan allows.
    """
    lengths = [
        (entry.plan or {}).get("shortest_s") or entry.lasts_s
        for entry in course.header.script.stretches
        if stretch in ("", entry.name)
    ]
    known = [float(length) for length in lengths if length]
    return sum(known) if known else None


def _protected(hidden_s: float) -> Message:
    return msg(
        "for {time} the unit sent its picture as protected output, which no capture can see: have "
        "it show something that is not protected, and run again",
        time=Amount(hidden_s, "s"),
    )


def _not_finished(
    course: Course, requirement: Requirement, promised_s: float | None, observed_s: float
) -> Message:
    name = requirement.stretch
    if not course.windows(name) and course.unconfirmed:
        return msg("nobody confirmed that the unit was switched on")
    if not course.windows(name):
        if name:
            return msg("the stretch {stretch} was never begun", stretch=named(name))
        return msg("nothing was recorded")
    ended = {
        mark.stretch: fact_as(mark, StretchEnds).because for mark in course.marks(StretchEnds.mark)
    }
    planned = [str(entry.name) for entry in course.header.script.stretches]
    meant = [name] if name else planned
    for stretch in meant:
        if stretch not in ended:
            return msg("the stretch {stretch} did not come to its end", stretch=named(stretch))
        if ended[stretch] not in ("done", *BY_PLAN):
            return msg(
                "the stretch {stretch} ended early ({why})",
                stretch=named(stretch),
                why=ending_words(str(ended[stretch])),
            )
    if promised_s is not None:
        least_s = promised_s * (1 - requirement.blind_allowed) - ROUNDING_S
        if observed_s < least_s:
            if BY_PLAN[1] in (ended.get(stretch) for stretch in meant):
                return msg("a sequential plan rejected the unit and ended the stretch early")
            return msg(
                "only {seen} of {promised} were observed",
                seen=Amount(observed_s, "s"),
                promised=Amount(promised_s, "s"),
            )
    return NOTHING_SAID


def _cut_short(course: Course, why: Message) -> Message:
    """Say also why the guard cut the power for good, where a stretch did not come to its end."""
    cut = why_cut(course) if why else NOTHING_SAID
    return joined("; ", [why, cut]) if cut else why


def ending_words(why: str) -> Said:
    """Return why a stretch ended as it is said; a reason of another's own making as it is."""
    return _ENDINGS.get(why, why)


_ENDINGS = {
    "done": msg("done"),
    "skipped": msg("skipped"),
    "not after": msg("not after"),
    "stopped": msg("stopped"),
    "bench fault": msg("bench fault"),
    BY_PLAN[0]: msg("accepted by plan"),
    BY_PLAN[1]: msg("rejected by plan"),
}


def _too_long(longest_blind_s: float, allowed_s: float | None) -> Message:
    if allowed_s is None or longest_blind_s <= allowed_s:
        return NOTHING_SAID
    return msg(
        "the bench was blind for {longest} at one time; {allowed} are allowed",
        longest=Amount(longest_blind_s, "s"),
        allowed=Amount(allowed_s, "s"),
    )


def _too_doubtful(losses: Sequence[Dropout]) -> Message:
    together_s = sum(loss.length_s for loss in losses)
    if len(losses) <= DOUBTFUL_AT_MOST and together_s <= DOUBTFUL_AT_MOST_S:
        return NOTHING_SAID
    return counted(
        len(losses),
        "1 loss of {time} lies so near a hole of the bench that it may be the unit's or the "
        "bench's",
        "{count} losses, together {time}, lie so near holes of the bench that they may be the "
        "unit's or the bench's",
        time=Amount(together_s, "s"),
    )


def _too_much(share: float, allowed: float) -> Message:
    if share <= allowed:
        return NOTHING_SAID
    return msg(
        "the bench was blind for {share} of the time; {allowed} are allowed",
        share=Percent(share, 1),
        allowed=Percent(allowed, 1),
    )
