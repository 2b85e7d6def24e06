"""What the operator answered."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, not_shown
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict


@rule("answered")
def answered(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that a question was answered as wanted; the latest answer counts."""
    wanted = requirement.params.get("wanted", "yes")
    given = [
        (course, mark)
        for course in soaks
        for mark in course.marks("answer")
        if mark.detail.get("id") == requirement.quantity and mark.detail.get("answer") is not None
    ]
    if not given:
        return not_shown(requirement, "nobody answered")
    course, mark = given[-1]
    answer = mark.detail["answer"]
    by = f" by {mark.detail['by']}" if mark.detail.get("by") else ""
    because = f"Answered {answer}{by}; {wanted} is wanted."
    pointers = [Pointer(course.header.soak_id, mark.t_s, mark.t_s, f"answer: {answer}")]
    verdict = Verdict.MET if _same(answer, wanted) else Verdict.NOT_MET
    found = Value(method="The operator's word")
    return conclude(requirement, verdict, because, found, pointers, {"answer": answer})


def _same(answer: object, wanted: object) -> bool:
    if isinstance(answer, str) and isinstance(wanted, str):
        return answer.strip().lower() == wanted.strip().lower()
    return answer == wanted
