"""The grade of a job: a pure function of its soaks' evidence and what is demanded."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from soak.derive.course import Course, course_of
from soak.derive.events.trips import never_off
from soak.errors import UsageError, told_of
from soak.evidence import Evidence
from soak.judge.contradiction import contradictions
from soak.judge.functions import as_far_as, exercised, functions_of, some_of
from soak.judge.judging import weight_of
from soak.judge.open_points import open_points
from soak.judge.stricter import (
    FAILED,
    Known,
    OnRecord,
    Withdrawal,
    by_every_word,
    failed_before,
    failures,
    findings_of,
    for_counts,
    journal_gone,
    lost,
    what_was_withdrawn,
    withdrawals,
)
from soak.judge.unit_or_switch import dead_again
from soak.judge.worst import furthest, kinds_of, summed
from soak.names import named
from soak.records import Json, Requirement, requirement_from_json
from soak.rules.core.rule import RULES, Weight
from soak.rules.core.verdict import Exercised, Finding, Judgement, OpenPoint, Verdict
from soak.words import (
    NOTHING_SAID,
    Message,
    all_of,
    begin,
    counted,
    joined,
    msg,
    paragraph,
    sentence,
)

Because = Literal["all met", "failed", "incomplete"]
_NOTHING = OnRecord()


def judge(
    soaks: Sequence[Evidence], script: Json | None = None, ledger: OnRecord = _NOTHING
) -> Judgement:
    """Judge all soaks of one job.

    The newest soak's requirements are judged over all soaks that hold them, together with those of
    records made beside the soaks. A soak that by itself does not meet its own requirements, or the
    newest, keeps the job failed: passing on the third try, or under a looser script, is not hidden.

    Parameters
    ----------
    soaks : sequence of Evidence
        All soaks since the repair, in any order.
    script : Json or None
        Another resolved script, whose `requirements` are the newest word.
    ledger : OnRecord
        What the ledger knows of the job beside its journals.

    Raises
    ------
    UsageError
        If there is no soak, if soaks of different jobs are mixed, or if a requirement in `script`
        cannot be read or contradicts another.
    """
    courses = _one_job(sorted((course_of(soak) for soak in soaks), key=_begun))
    newest = _newest(courses)
    demanded = _read(script) if script is not None else _demanded(newest, courses)
    gone = withdrawals(courses, ledger.withdrawn)
    findings = findings_of(demanded, courses, gone)
    each = by_every_word(courses, newest, demanded)
    missing = lost(courses, ledger.soaks)
    dead = dead_again(courses)
    failed = _failed(each, gone, missing)
    before = exercised([finding for course, finding in each if course is not newest])
    shown = before | exercised(findings)
    functions = functions_of(newest, courses, findings, before)
    points = [
        *([OpenPoint("end", _only(newest))] if _beside(newest) else []),
        *(OpenPoint("failed", begin(told)) for told in (*dead, *failed)),
        *(OpenPoint("journal", journal_gone(known)) for known in missing if known.grade != FAILED),
        *open_points(newest, functions, shown, courses),
    ]
    because, reason, aside = _grade(findings, dead, failed, points, newest=newest.header.soak_id)
    reason = paragraph(*filter(None, map(never_off, courses)), reason)
    so_far = as_far_as(functions) if because == "all met" else NOTHING_SAID
    return Judgement(
        ready=because == "all met",
        because=because,
        reason=paragraph(reason, _left_out(functions)) if so_far else reason,
        aside=aside,
        findings=tuple(findings),
        points=tuple(points),
        rules=RULES,
        seals=tuple(course.file_sha256 for course in courses),
        soaks=tuple(course.header.soak_id for course in courses),
        withdrawn=tuple(what_was_withdrawn(gone)),
        counted=tuple(for_counts(findings, courses, demanded)),
        functions=functions,
        as_far_as=so_far,
    )


def _left_out(functions: Sequence[Exercised]) -> Message:
    out = [
        function.text
        for function in functions
        if function.key and function.verdict is Verdict.NOT_TESTED
    ]
    return counted(
        len(out),
        "The claim leaves out 1 key function, which was not tested: {functions}.",
        "The claim leaves out {count} key functions, which were not tested: {functions}.",
        none=msg("The model sheet marks no function as key."),
        functions=some_of(out),
    )


def _failed(
    each: Sequence[tuple[Course, Finding]], gone: Sequence[Withdrawal], missing: Sequence[Known]
) -> list[Message]:
    """Say what single soaks failed; of one whose journal is gone the ledger's word is left."""
    failed = [failed_before(*failure) for failure in failures(each, gone)]
    return failed + [journal_gone(known) for known in missing if known.grade == FAILED]


def _begun(course: Course) -> tuple[str, str]:
    sessions = course.sessions()
    return (sessions[0].utc if sessions else "", course.header.soak_id)


def _beside(course: Course) -> bool:
    """Tell a record made beside the soaks, such as data carried by hand: it replaces none."""
    return bool(course.header.script.beside)


def _only(course: Course) -> Message:
    name = course.header.script.name
    if name == "carry":
        return msg("Nothing but data carried by hand is on record; soak it.")
    return msg(
        "Nothing but a soak by the script '{script}' is on record; soak it.", script=named(name)
    )


def _newest(courses: Sequence[Course]) -> Course:
    return next((course for course in reversed(courses) if not _beside(course)), courses[-1])


def _demanded(newest: Course, courses: Sequence[Course]) -> list[Requirement]:
    """Return what the newest soak demands, and what records beside it do."""
    beside = [
        requirement
        for course in courses
        if _beside(course)
        for requirement in course.header.requirements
    ]
    requirements = {need.id: need for need in [*newest.header.requirements, *beside]}
    return list(requirements.values())


def _one_job(courses: Sequence[Course]) -> Sequence[Course]:
    if not courses:
        raise UsageError(msg("there is no soak to judge; name at least one"))
    jobs = sorted({course.header.job_id for course in courses})
    if len(jobs) > 1:
        raise UsageError(
            msg(
                "these soaks belong to {jobs} jobs ({listed}); judge one job at a time, "
                "because evidence from before a repair says nothing about it",
                jobs=len(jobs),
                listed=joined(", ", jobs),
            )
        )
    return courses


def _read(script: Json) -> list[Requirement]:
    name = script.get("name", "")
    try:
        demanded = [requirement_from_json(entry) for entry in script.get("requirements", ())]
    except (KeyError, TypeError, ValueError) as fault:
        raise UsageError(
            msg("script {name}: a requirement cannot be read: {why}", name=name, why=told_of(fault))
        ) from None
    wrong = [
        msg("script {name}: {key} {what}", name=name, key=mistake.key, what=mistake.what)
        for mistake in contradictions(demanded)
    ]
    if wrong:
        raise UsageError(joined("\n", wrong))
    return demanded


def _grade(
    findings: Sequence[Finding],
    dead: Sequence[Message],
    failed: Sequence[Message],
    points: Sequence[OpenPoint],
    newest: str,
) -> tuple[Because, Message, Message]:
    """Return the grade, its reason, and what is said of it to the bench only."""
    by = {verdict: [f for f in findings if f.verdict == verdict] for verdict in Verdict}
    number = len(findings)
    if by[Verdict.NOT_MET]:
        worst = kinds_of(by[Verdict.NOT_MET])[0]
        text = counted(
            len(by[Verdict.NOT_MET]),
            "1 of {number} requirements is not met: {because}",
            "{count} of {number} requirements are not met: {because}",
            number=number,
            because=summed(worst),
        )
        return "failed", joined(" ", [text, _in_another(worst, newest)]), furthest(worst).aside
    if dead:
        return "failed", sentence(begin(dead[0])), NOTHING_SAID
    if failed:
        text = msg("Nothing against it in the newest soak, but {before}", before=failed[0])
        return "failed", text, NOTHING_SAID
    if by[Verdict.NOT_SHOWN]:
        # A relay that does not switch explains every other hole: name it first.
        first = min(
            by[Verdict.NOT_SHOWN], key=lambda finding: weight_of(finding) is not Weight.EXPLAINS
        )
        text = counted(
            len(by[Verdict.NOT_SHOWN]),
            "1 of {number} requirements is not shown: {why}.",
            "{count} of {number} requirements are not shown: {why}.",
            number=number,
            why=first.why,
        )
        return "incomplete", text, NOTHING_SAID
    return *_nothing_against(by, number, points), NOTHING_SAID


def shows_nothing(findings: Iterable[Finding]) -> bool:
    """Tell whether nothing is tested but what was looked at before power."""
    return all(
        finding.verdict is Verdict.NOT_TESTED or weight_of(finding) is Weight.BY_HAND
        for finding in findings
    )


def _nothing_against(
    by: Mapping[Verdict, Sequence[Finding]], number: int, points: Sequence[OpenPoint]
) -> tuple[Because, Message]:
    if not number:
        return "incomplete", msg("The script demands nothing, so nothing is shown.")
    if shows_nothing(by[Verdict.MET]):
        return "incomplete", msg("Nothing could be tested with the instruments that are wired.")
    if points:
        return "incomplete", points[0].told
    met = counted(
        len(by[Verdict.MET]),
        "The 1 requirement that could be tested is met",
        "All {count} requirements that could be tested are met",
    )
    untested = by[Verdict.NOT_TESTED]
    left = counted(len(untested), "1 was not tested", "{count} were not tested", none=NOTHING_SAID)
    text = sentence(joined("; ", [met, left]))
    return "all met", joined(" ", [text, _by_persons(by[Verdict.MET])])


def _by_persons(met: Sequence[Finding]) -> Message:
    """Say what of all that is met only people judged; nothing if instruments did it all."""
    if only := by_persons_only(met):
        return msg("All of it was judged {who}, and nothing by an instrument.", who=only)
    judged = [finding.judged_by for finding in met if finding.judged_by]
    who = all_of(dict.fromkeys(judged))
    return counted(
        len(judged), "1 was judged {who}.", "{count} were judged {who}.", who=who, none=NOTHING_SAID
    )


def by_persons_only(findings: Sequence[Finding]) -> Message:
    """Say who judged all that was met; empty if an instrument showed any of it, or nobody did."""
    met = [finding for finding in findings if finding.verdict is Verdict.MET]
    shows = [finding.judged_by for finding in met if weight_of(finding) is not Weight.BY_HAND]
    return all_of(dict.fromkeys(shows)) if all(shows) else NOTHING_SAID


def _in_another(parts: Sequence[Finding], newest: str) -> Message:
    """Name the soaks that a kind of fault was seen in, if the newest is not among them."""
    seen = {pointer.soak_id for finding in parts for pointer in finding.pointers}
    if not seen or newest in seen:
        return NOTHING_SAID
    return msg("(in soak {soaks})", soaks=", ".join(sorted(seen)))
