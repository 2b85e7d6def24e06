"""The stricter word stands: every soak of a job by its own frozen demands and by the newest ones.

What once failed stays failed under a looser script, in a stretch called otherwise, and with its
journal gone. A demand that was wrong is withdrawn in the ledger, with a reason.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from soak.derive.course import Course
from soak.judge.judging import demanded, judge_requirement, rule_of, weight_of
from soak.names import named
from soak.records import Requirement
from soak.rules.core.finding import not_shown
from soak.rules.core.rule import Weight
from soak.rules.core.verdict import Finding, Verdict
from soak.terms import LossTerms, TermsError
from soak.words import NOTHING_SAID, Day, Message, begin, msg, sentence

FAILED = "not ready: failed"


@dataclass(frozen=True, slots=True)
class Known:
    """A soak of the job as the ledger, or a later soak's header, knows it.

    Attributes
    ----------
    grade : str
        The last grade that the job had with it; empty: it was never judged.
    cleared : Message
        Where its journal is, if it was cleared; else empty.
    """

    soak_id: str
    grade: str
    cleared: Message = NOTHING_SAID


@dataclass(frozen=True, slots=True)
class Withdrawn:
    """A demand that somebody said was wrong.

    Attributes
    ----------
    soak_id, demand : str
        The soak in whose header it stands, and its id there.
    on : str
        Day, RFC 3339.
    """

    soak_id: str
    demand: str
    because: str
    by: str
    on: str


@dataclass(frozen=True, slots=True)
class OnRecord:
    """What the ledger knows of a job beside its journals.

    Attributes
    ----------
    soaks : sequence of Known
        Its soaks: one whose journal is not among those that are judged is gone.
    """

    soaks: Sequence[Known] = ()
    withdrawn: Sequence[Withdrawn] = ()


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """A demand that was withdrawn, with the soak that it stands in."""

    course: Course
    requirement: Requirement
    told: Withdrawn


def withdrawals(courses: Sequence[Course], told: Sequence[Withdrawn]) -> list[Withdrawal]:
    """Return the demands that were withdrawn, as the headers of these soaks hold them."""
    return [
        Withdrawal(course, need, withdrawn)
        for withdrawn in told
        for course in courses
        if course.header.soak_id == withdrawn.soak_id
        for need in course.header.requirements
        if need.id == withdrawn.demand
    ]


def findings_of(
    needs: Sequence[Requirement], courses: Sequence[Course], gone: Sequence[Withdrawal]
) -> list[Finding]:
    """Judge what is demanded now over all soaks; what was withdrawn shows nothing."""
    taken_back = {
        id(need): withdrawal
        for need in needs
        for withdrawal in gone
        if withdrawal.requirement == need
    }
    return [
        not_shown(need, _in_its_place(taken_back[id(need)]))
        if id(need) in taken_back
        else judge_requirement(need, courses)
        for need in needs
    ]


def _in_its_place(one: Withdrawal) -> Message:
    return msg(
        "it was withdrawn ({because}); soak by a script that demands what is right instead",
        because=one.told.because,
    )


def by_every_word(
    courses: Sequence[Course], newest: Course, needs: Sequence[Requirement]
) -> list[tuple[Course, Finding]]:
    """Judge each soak by itself, by its own word and by the newest.

    What the newest soak comes to by what is demanded now is told by its findings and left out. Its
    own word matters for what a soak showed, too: on another fixture the same demand may show no
    function any more.

    Parameters
    ----------
    needs : sequence of Requirement
        What is demanded now.
    """
    return [
        (course, judge_requirement(need, [course]))
        for course in courses
        for need in _words_on(course, newest, needs)
    ]


def failures(
    found: Sequence[tuple[Course, Finding]], gone: Sequence[Withdrawal]
) -> list[tuple[Course, Finding]]:
    """Return what speaks against the unit of what each soak came to, a demand once.

    A demand that a hand can put right without a repair (a screw, a label) is asked again each time.
    """
    failed: dict[tuple[str, str], tuple[Course, Finding]] = {}
    for course, finding in found:
        withdrawn = any(finding.requirement == taken_back.requirement for taken_back in gone)
        counts = finding.verdict is Verdict.NOT_MET and weight_of(finding) is not Weight.BY_HAND
        if counts and not withdrawn:
            failed.setdefault((course.header.soak_id, finding.requirement.id), (course, finding))
    return list(failed.values())


def _words_on(
    course: Course, newest: Course, needs: Sequence[Requirement]
) -> Iterator[Requirement]:
    own = course.header.requirements
    yield from (
        requirement for requirement in own if course is not newest or requirement not in needs
    )
    if course is not newest:
        yield from (
            asked for need in needs for asked in _asked_of(need, course) if asked not in own
        )


def _asked_of(need: Requirement, course: Course) -> list[Requirement]:
    """Return a demand as it is put to a soak whose stretches may be called otherwise."""
    stretches = course.header.script.stretches
    if not (need.stretch and need.check) or need.stretch in {stretch.name for stretch in stretches}:
        return [need]
    rule = rule_of(need)
    return [
        replace(need, stretch=stretch.name)
        for stretch in stretches
        if rule is not None and rule.anywhere and need.check in stretch.checks
    ]


def failed_before(course: Course, finding: Finding) -> Message:
    """Say that a soak of the job failed, and what."""
    return msg(
        "soak {soak} of this job failed: {demand}: {because}",
        soak=course.header.soak_id,
        demand=demanded(finding.requirement),
        because=finding.because,
    )


def what_was_withdrawn(gone: Sequence[Withdrawal]) -> list[Message]:
    """Say of each demand that was not met and then withdrawn what came of it, who, when and why."""
    sentences = []
    for withdrawal in gone:
        finding = judge_requirement(withdrawal.requirement, [withdrawal.course])
        if finding.verdict is Verdict.NOT_MET:
            sentences.append(
                msg(
                    "Not met in soak {soak}, then withdrawn by {by} on {on} ({because}): {demand}. "
                    "{found}",
                    soak=withdrawal.course.header.soak_id,
                    by=withdrawal.told.by,
                    on=Day(withdrawal.told.on),
                    because=withdrawal.told.because,
                    demand=demanded(withdrawal.requirement),
                    found=finding.because,
                )
            )
    return sentences


def lost(courses: Sequence[Course], known: Sequence[Known]) -> list[Known]:
    """Return the soaks of the job that are known and whose journals are not there."""
    seen_before = {
        entry.soak_id: Known(entry.soak_id, entry.grade)
        for course in courses
        for entry in course.header.references.earlier_soaks
        if entry.soak_id
    }
    seen_before |= {course.soak_id: course for course in known}
    here = {course.header.soak_id for course in courses}
    return [one for soak_id, one in seen_before.items() if soak_id not in here]


def journal_gone(one: Known) -> Message:
    """Say that a journal is gone, and what that does."""
    if one.cleared and one.grade == FAILED:
        return msg("soak {soak} of this job failed; {where}", soak=one.soak_id, where=one.cleared)
    if one.cleared:
        return sentence(begin(one.cleared))
    if one.grade == FAILED:
        return msg(
            "soak {soak} of this job failed, and its journal is gone: put its folder back",
            soak=one.soak_id,
        )
    if not one.grade:
        return msg(
            "The journal of soak {soak}, which was never judged, is gone: put its folder back, "
            "or say that the unit was opened: soak unit opened.",
            soak=one.soak_id,
        )
    return msg(
        "The journal of soak {soak} (then {grade}) is gone: put its folder back, or say that the "
        "unit was opened: soak unit opened.",
        soak=one.soak_id,
        grade=named(one.grade),
    )


def for_counts(
    findings: Sequence[Finding], courses: Sequence[Course], newest: Sequence[Requirement]
) -> list[Finding]:
    """Return the findings for the counts on a page: losses by the shortest ever demanded."""
    ever = [
        *newest,
        *(requirement for course in courses for requirement in course.header.requirements),
    ]
    shortest: dict[str, float] = {}
    for need in ever:
        terms = _loss_terms(need)
        if terms is not None:
            source = need.quantity or "capture"
            shortest[source] = min(shortest.get(source, terms.at_least_s), terms.at_least_s)
    return [_by_shortest(finding, shortest, courses) for finding in findings]


def _by_shortest(
    finding: Finding, shortest: dict[str, float], courses: Sequence[Course]
) -> Finding:
    need = finding.requirement
    terms = _loss_terms(need)
    least_s = shortest.get(need.quantity or "capture")
    if terms is None or least_s is None or least_s >= terms.at_least_s:
        return finding
    params: dict[str, Any] = {**need.params, "at_least_s": least_s}
    return judge_requirement(replace(need, params=params), courses)


def _loss_terms(need: Requirement) -> LossTerms | None:
    rule = rule_of(need)
    try:
        terms = None if rule is None else rule.terms_of(need)
    except TermsError:
        return None
    return terms if isinstance(terms, LossTerms) else None
