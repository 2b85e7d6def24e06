"""Whether the unit starts every time, and whether it was really off before."""

import math
from collections.abc import Mapping, Sequence

from soak.derive.course import Course
from soak.derive.events.faults import failed_starts
from soak.derive.jobs_before import FailureKind
from soak.derive.seeing.coverage import Coverage, coverage, dead_in
from soak.derive.spans import holds, minus
from soak.derive.starting.starts import Start, slowest
from soak.derive.starting.tried import answered_late, limit_of, limits_in_words, tried_of
from soak.derive.strata import halves_in_words, in_words, strata
from soak.marks import OffNotProved, OffProved, facts
from soak.records import Requirement
from soak.rules.core import lacks, reads
from soak.rules.core.allowed import but_for
from soak.rules.core.finding import Value, conclude, not_shown, point_at, settle
from soak.rules.core.rule import Bounds, Rule, Section, Weight
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.terms import StartTerms, terms
from soak.words import (
    NOTHING_SAID,
    Message,
    Stated,
    counted,
    joined,
    msg,
    paragraph,
    sentence,
)

_METHOD = msg(
    "Failed starts counted; one-sided upper bound of the failed share after Clopper & Pearson "
    "1934, NIST/SEMATECH e-Handbook 7.2.4.1; whether the starts are alike: exact runs test (Swed & "
    "Eisenhart 1943), early against late half (Fisher's exact test), Mann-Kendall and Theil-Sen"
)


def _starts(need: Requirement, terms: StartTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` starts failed, over all soaks together.

    Cold, warm and quick starts have bounds of their own (`detail["strata"]`); the finding's bound
    is given where all starts are of one kind and alike.
    """
    tried: list[tuple[Start, bool]] = []
    pointers: list[Pointer] = []
    covered: list[Coverage] = []
    for course in soaks:
        here = tried_of(need, course)
        tried += here
        pointers += _faults(course, limit_of(need, course).limit_s, here)
        covered.append(_covered(need, terms, course, len(here)))
    if not tried:
        why = covered[-1].why or msg("no start was watched to its end")
        return not_shown(need, why)
    allowed = need.limit or 0.0
    failed = sum(bad for _, bad in tried)
    confidence = need.confidence or 0.95
    groups = strata(tried, confidence)
    most = groups[0].bound_high if len(groups) == 1 else None
    times = [start.took_s for start, _ in tried if start.took_s is not None]
    because = paragraph(
        _worked(len(tried) - failed, [start for start, _ in tried], limits_in_words(need, soaks)),
        msg("First: {what}.", what=pointers[0].what) if failed and pointers else None,
        in_words(groups),
    )
    detail = {
        "starts": len(tried),
        "failed": failed,
        "slowest_s": max(times, default=None),
        "confidence": confidence,
        "strata": [group.as_json() for group in groups],
    }
    margin = allowed - failed
    value = Value(failed, bound_high=most, margin=margin, method=_METHOD, over=len(tried))
    aside = halves_in_words(groups)
    return settle(
        need,
        failed <= allowed,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=detail,
        aside=aside,
    )


def _worked(good: int, tried: Sequence[Start], limits: Message) -> Message:
    worked = counted(
        len(tried), "{good} of 1 start worked", "{good} of {count} starts worked", good=good
    )
    return sentence(joined("; ", [worked, slowest(tried), limits]))


def _faults(
    course: Course, limit_s: float, tried: Sequence[tuple[Start, bool]]
) -> Sequence[Pointer]:
    when = {start.t_on for start, bad in tried if bad}
    return point_at(
        course,
        [
            failed_start
            for failed_start in failed_starts(course, limit_s)
            if failed_start.from_s in when
        ],
    )


def _covered(need: Requirement, terms: StartTerms, course: Course, watched: int) -> Coverage:
    """Return coverage by count: what was promised is a number of starts."""
    plain = coverage(course, need, ())
    promised = _promised(need, terms, course)
    why = plain.why
    if promised is not None and watched < math.ceil(promised * (1 - need.blind_allowed)):
        why = (
            why
            or dead_in(course, need.stretch)
            or answered_late(need, course)
            or msg(
                "only {watched} of {promised} starts were watched to their end",
                watched=watched,
                promised=promised,
            )
        )
    return Coverage(plain.promised_s, plain.observed_s, 0.0, longest_blind_s=0.0, why=why)


def _promised(need: Requirement, terms: StartTerms, course: Course) -> int | None:
    """Return how many starts of the asked kinds the script promises; None if it does not say."""
    if terms.promised is not None:
        return terms.promised
    counts = []
    for entry in course.header.script.stretches:
        if need.stretch not in ("", entry.name):
            continue
        settings = entry.checks.get(terms.power_check)
        for kind in terms.kinds:
            asked = settings.get(kind) if isinstance(settings, Mapping) else None
            asked = asked.get("count") if isinstance(asked, Mapping) else asked
            if isinstance(asked, int) and not isinstance(asked, bool):
                counts.append(asked)
    return sum(counts) if counts else None


def _every_start(need: Requirement, terms: StartTerms) -> Message:
    if terms.start_limit_s is None:
        demand = msg("Every start shows a picture within the limit for its model")
        return but_for(need, demand)
    limit = Stated(terms.start_limit_s, "s")
    return but_for(need, msg("Every start shows a picture within {limit}", limit=limit))


STARTS = Rule(
    name="starts",
    terms=StartTerms,
    judge=_starts,
    demands=_every_start,
    reads=reads.STARTS,
    lacks=lambda finding, terms, lasts_s: lacks.starts(finding, terms.promised),
    section=Section.STARTS,
    bounds=Bounds.SHARE,
    anywhere=True,
    failures=FailureKind.STARTS,
)


@terms
class OffTerms:
    """Every off of the stretch is meant: there is nothing to say."""


def _off_proved(need: Requirement, terms: OffTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that each off was seen to be one; a welded relay is the bench's fault."""
    proved = 0
    pointers = []
    dead = NOTHING_SAID
    for course in soaks:
        dead = dead_in(course, need.stretch)
        # The off of a unit that may have had no power shows nothing.
        windows = minus(course.windows(need.stretch), course.dead_spans)
        proved += sum(holds(mark.t_s, windows) for mark in course.marks(OffProved.mark))
        for mark, alive in facts(course, OffNotProved):
            if holds(mark.t_s, windows):
                what = _alive(alive.by)
                pointers.append(Pointer(course.header.soak_id, mark.t_s, mark.t_s, what))
    doubtful = len(pointers)
    allowed = need.limit or 0.0
    value = Value(doubtful, margin=allowed - doubtful, method=msg("Marks counted"))
    detail = {"proved": proved, "not proved": doubtful}
    if doubtful > allowed:
        why = counted(
            doubtful,
            "1 off could not be proved; look at the relay and its wiring",
            "{count} offs could not be proved; look at the relay and its wiring",
        )
        return not_shown(need, why, value, pointers=pointers, detail=detail)
    if not proved:
        return not_shown(need, dead or msg("no off was proved"), value, pointers=(), detail=detail)
    because = counted(
        proved,
        "The unit was seen to be off each of 1 time.",
        "The unit was seen to be off each of {count} times.",
    )
    return conclude(need, Verdict.MET, because, found=value, pointers=(), detail=detail)


def _alive(by: str) -> Message:
    """Say what spoke against an off; `by` is a source, the button, or `"nothing"`."""
    known = {
        "capture": msg("commanded off and still alive by capture"),
        "eye": msg("commanded off and still alive by eye"),
        "button": msg("commanded off and still alive by button"),
        "nothing": msg("commanded off, and nothing saw whether it was"),
    }
    return known.get(by) or msg("commanded off and still alive by {source}", source=by)


def _seen_off(need: Requirement, terms: OffTerms) -> Message:
    return msg("Each off was seen to be off")


OFF_PROVED = Rule(
    name="off proved",
    terms=OffTerms,
    judge=_off_proved,
    demands=_seen_off,
    reads=reads.Counted(),
    lacks=lacks.time,
    section=Section.STARTS,
    bounds=Bounds.NONE,
    weight=Weight.EXPLAINS,
)
