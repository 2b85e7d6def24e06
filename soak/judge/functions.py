"""Which functions of the model sheet the findings exercise: for grade, report and ledger alike."""

from collections.abc import Collection, Sequence

from soak.derive.course import Course
from soak.names import check_named
from soak.records import Header
from soak.rules.core.verdict import Exercised, Finding, Verdict
from soak.words import NOTHING_SAID, Message, all_of, counted, just, msg

MOST_NAMED = 3
"""So many functions are named in a headline; of more the number is said. Our own choice."""


def about(function: str, findings: Sequence[Finding]) -> list[Finding]:
    """Return the findings that exercise a function."""
    return [finding for finding in findings if function in finding.requirement.shows_repair]


def exercised(findings: Sequence[Finding]) -> frozenset[str]:
    """Return the functions that requirements which are met exercise."""
    met = [
        finding.requirement.shows_repair for finding in findings if finding.verdict is Verdict.MET
    ]
    return frozenset().union(*met)


def left_out_of(header: Header) -> frozenset[str]:
    """Return the functions that the claim left out when the soak began."""
    return frozenset(header.references.left_out)


def functions_of(
    newest: Course,
    courses: Sequence[Course],
    findings: Sequence[Finding],
    shown_before: Collection[str],
) -> tuple[Exercised, ...]:
    """Return what came of each function of the newest soak's model sheet.

    Parameters
    ----------
    courses : sequence of Course
        All soaks of the job: what one of them called a key function stays one.
    findings : sequence of Finding
        What is demanded now, judged over all soaks.
    shown_before : collection of str
        Functions that earlier soaks' own demands showed: that counts, too.
    """
    header = newest.header
    left_out = left_out_of(header)
    keys = {
        name
        for course in courses
        for name, one in course.header.model_sheet.functions.items()
        if one.key
    }
    exercised = []
    for name, function in header.model_sheet.functions.items():
        verdict = _worst(
            {finding.verdict for finding in about(name, findings)}, name in shown_before
        )
        one = Exercised(
            name=name,
            text=function.text or name,
            key=name in keys,
            verdict=verdict,
            why=_why(verdict, name, header, findings),
            left_out=name in left_out,
        )
        exercised.append(one)
    return tuple(exercised)


def _worst(found: Collection[Verdict], before: bool) -> Verdict:
    for verdict in (Verdict.NOT_MET, Verdict.NOT_SHOWN):
        if verdict in found:
            return verdict
    return Verdict.MET if before or Verdict.MET in found else Verdict.NOT_TESTED


def _why(verdict: Verdict, name: str, header: Header, findings: Sequence[Finding]) -> Message:
    if verdict is Verdict.NOT_SHOWN:
        return msg("its check ran but did not show it")
    if verdict is Verdict.NOT_TESTED:
        return _why_untested(name, header, findings)
    return NOTHING_SAID


def _why_untested(name: str, header: Header, findings: Sequence[Finding]) -> Message:
    check = header.model_sheet.functions[name].check
    if not check:
        return msg("no check of the model sheet exercises it")
    ran = [finding for finding in findings if finding.requirement.check == check]
    lacking = [
        judged.why
        for judged in (*about(name, findings), *ran)
        if judged.verdict is Verdict.NOT_TESTED and judged.why
    ]
    if lacking:
        return lacking[0]
    if ran:
        return msg("the check '{check}' runs, but not on it", check=check_named(check))
    if any(check in stretch.checks for stretch in header.script.stretches):
        return msg(
            "the check '{check}' finds nothing wired that it could watch", check=check_named(check)
        )
    return msg("the check '{check}' is not part of the script", check=check_named(check))


def as_far_as(functions: Sequence[Exercised]) -> Message:
    """Say which functions were tested, where not every key function was or the sheet names none."""
    keys = [function for function in functions if function.key]
    untested = [key for key in keys if key.verdict is Verdict.NOT_TESTED]
    if not functions or (keys and not untested):
        return NOTHING_SAID
    tested = [function for function in functions if function.verdict is Verdict.MET]
    tested.sort(key=lambda one: not one.key)
    return msg(
        "as far as tested: {functions}", functions=some_of([function.text for function in tested])
    )


def some_of(texts: Sequence[str]) -> Message:
    """List the first of them, and say how many more there are."""
    left = len(texts) - MOST_NAMED
    more = counted(left, "1 more", "{count} more") if left > 0 else NOTHING_SAID
    return all_of([*map(just, texts[:MOST_NAMED]), more])
