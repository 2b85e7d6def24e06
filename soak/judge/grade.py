"""The grade of a job: a pure function of its soaks' evidence and what is demanded."""

from collections.abc import Sequence
from typing import Literal

from soak.derive.course import Course, course_of
from soak.errors import UsageError
from soak.evidence import Evidence
from soak.judge.contradiction import contradiction
from soak.judge.judging import judge_requirement
from soak.judge.open_points import open_points
from soak.records import Json, Requirement, requirement_from_json
from soak.rules.core.finding import NOT_SHOWN
from soak.rules.core.rule import RULES
from soak.rules.core.verdict import Finding, Judgement, Verdict

Because = Literal["all met", "failed", "incomplete"]


def judge(soaks: Sequence[Evidence], script: Json | None = None) -> Judgement:
    """Judge all soaks of one job.

    The newest soak's requirements are judged over all soaks that hold them, together with those of
    records made beside the soaks. An earlier soak whose own requirements were not met keeps the job
    failed: passing on the third try is not hidden.

    Parameters
    ----------
    soaks : sequence of Evidence
        All soaks since the repair, in any order.
    script : Json or None
        Another resolved script, whose `requirements` replace those fixed in the headers.

    Raises
    ------
    UsageError
        If there is no soak, if soaks of different jobs are mixed, or if a requirement in `script`
        cannot be read or contradicts another.
    """
    courses = sorted((course_of(soak) for soak in soaks), key=_begun)
    _one_job(courses)
    newest = _newest(courses)
    demanded = _read(script) if script is not None else _demanded(newest, courses)
    findings = [judge_requirement(requirement, courses) for requirement in demanded]
    others = [course for course in courses if course is not newest]
    earlier = _earlier(others, {one.id: one for one in demanded})
    failed_before = [(course, one) for course, one in earlier if _counts_against(one)]
    points = [
        *([f"Nothing but {_only(newest)} is on record; soak it."] if _beside(newest) else []),
        *(_failed_before(course, one) for course, one in failed_before),
        *open_points(newest, [*findings, *(one for _, one in earlier)]),
    ]
    because, reason = _grade(
        findings, [one for _, one in failed_before], points, newest.header.soak_id
    )
    return Judgement(
        ready=because == "all met",
        because=because,
        reason=reason,
        findings=tuple(findings),
        open_points=tuple(points),
        rules=RULES,
        seals=tuple(course.file_sha256 for course in courses),
        soaks=tuple(course.header.soak_id for course in courses),
    )


def _begun(course: Course) -> tuple[str, str]:
    sessions = course.sessions()
    return (sessions[0].utc if sessions else "", course.header.soak_id)


def _beside(course: Course) -> bool:
    """Tell a record made beside the soaks, such as data carried by hand: it replaces none."""
    return bool(course.header.script.get("beside"))


def _only(course: Course) -> str:
    name = course.header.script.get("name")
    return "data carried by hand" if name == "carry" else f"a soak by the script {name!r}"


def _newest(courses: Sequence[Course]) -> Course:
    return next((one for one in reversed(courses) if not _beside(one)), courses[-1])


def _demanded(newest: Course, courses: Sequence[Course]) -> list[Requirement]:
    """Return what the newest soak demands, and what records beside it do."""
    beside = [one for course in courses if _beside(course) for one in course.header.requirements]
    found = {one.id: one for one in [*newest.header.requirements, *beside]}
    return list(found.values())


def _one_job(courses: Sequence[Course]) -> None:
    if not courses:
        raise UsageError("there is no soak to judge; name at least one")
    jobs = sorted({course.header.job_id for course in courses})
    if len(jobs) > 1:
        raise UsageError(
            f"these soaks belong to {len(jobs)} jobs ({', '.join(jobs)}); judge one job at a time, "
            "because evidence from before a repair says nothing about it"
        )


def _read(script: Json) -> list[Requirement]:
    name = script.get("name", "")
    try:
        demanded = [requirement_from_json(entry) for entry in script.get("requirements", ())]
    except (KeyError, TypeError, ValueError) as fault:
        raise UsageError(f"script {name}: a requirement cannot be read: {fault}") from None
    wrong = contradiction(demanded)
    if wrong is not None:
        raise UsageError(f"script {name}: {wrong[0]} {wrong[1]}")
    return demanded


def _earlier(
    courses: Sequence[Course], demanded: dict[str, Requirement]
) -> list[tuple[Course, Finding]]:
    """Return each earlier soak's findings by itself, by its own requirements.

    One that is demanded now under the same id is judged as demanded now.
    """
    return [
        (course, judge_requirement(demanded.get(own.id, own), [course]))
        for course in courses
        for own in course.header.requirements
    ]


def _counts_against(finding: Finding) -> bool:
    # What a hand can put right without a repair (a screw, a label) is asked again each time.
    return finding.verdict == Verdict.NOT_MET and finding.requirement.rule != "answered"


def _failed_before(course: Course, finding: Finding) -> str:
    text = finding.requirement.text or finding.requirement.id
    return f"Soak {course.header.soak_id} of this job failed: {text}: {finding.because}"


def _grade(
    findings: Sequence[Finding],
    failed_before: Sequence[Finding],
    points: Sequence[str],
    newest: str,
) -> tuple[Because, str]:
    by = {verdict: [f for f in findings if f.verdict == verdict] for verdict in Verdict}
    number = len(findings)
    if by[Verdict.NOT_MET]:
        # That the end was not free of faults follows from another fault: name that one.
        first = min(by[Verdict.NOT_MET], key=lambda one: one.requirement.rule == "failure free")
        told = f"{_share(by[Verdict.NOT_MET], number)} not met: {first.because}"
        return "failed", told + _in_another(first, newest)
    if failed_before:
        return "failed", f"Nothing against it in the newest soak, but {_small(points[0])}"
    if by[Verdict.NOT_SHOWN]:
        # A relay that does not switch explains every other hole: name it first.
        first = min(by[Verdict.NOT_SHOWN], key=lambda one: one.requirement.rule != "off proved")
        why = first.because.removeprefix(NOT_SHOWN)
        return "incomplete", f"{_share(by[Verdict.NOT_SHOWN], number)} not shown: {why}"
    if not number:
        return "incomplete", "The script demands nothing, so nothing is shown."
    if all(one.requirement.rule == "answered" for one in by[Verdict.MET]):
        return "incomplete", "Nothing could be tested with the instruments that are wired."
    if points:
        return "incomplete", points[0]
    untested = by[Verdict.NOT_TESTED]
    reason = f"All {len(by[Verdict.MET])} requirements that could be tested are met"
    return "all met", reason + (f"; {len(untested)} were not tested." if untested else ".")


def _in_another(finding: Finding, newest: str) -> str:
    """Name the soak that a fault was seen in, if it is not the newest."""
    seen = {pointer.soak_id for pointer in finding.pointers}
    return f" (in soak {', '.join(sorted(seen))})" if seen and newest not in seen else ""


def _share(some: Sequence[Finding], number: int) -> str:
    return f"{len(some)} of {number} requirements {'is' if len(some) == 1 else 'are'}"


def _small(sentence: str) -> str:
    return sentence[0].lower() + sentence[1:]
