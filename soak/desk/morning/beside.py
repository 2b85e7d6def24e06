"""What stands beside a grade: what to run again, how sure it is in all, what like units show."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from soak.derive.course import Course, course_of
from soak.evidence import Evidence
from soak.judge import lacking, overall
from soak.judge.explain import pooled
from soak.judge.grade import judge
from soak.rules.core.verdict import Judgement


def beside_grade(judgement: Judgement, soaks: Sequence[Evidence]) -> list[str]:
    """Return lines to print below the findings."""
    courses = _in_order(judgement, soaks)
    lines = _again(judgement, courses[-1])
    together = overall.overall_of(judgement.findings)
    if together is not None and together.bounds > 1:
        lines.append(overall.in_words(together))
    shown = pooled.beside(courses[-1].header.references.get("pool", ()), courses)
    if shown:
        lines.append("beside it, and not graded:")
        lines += [f"  {pooled.in_words(one)}" for one in shown]
    return lines


def lacking_of(evidence: Evidence) -> list[str]:
    """Return what one soak by itself lacks; of one that still runs, what it lacks so far."""
    course = course_of(evidence)
    return _again(judge([course]), course)


def _again(judgement: Judgement, newest: Course) -> list[str]:
    resumable = newest.seal is None
    head = "lacking so far" if resumable else "run again"
    again = lacking.to_run_again(judgement.findings, newest)
    return [f"{head}: {lacking.in_words(one, resumable=resumable)}" for one in again]


def beside_as_data(judgement: Judgement, soaks: Sequence[Evidence]) -> dict[str, Any]:
    """Return the same for programs."""
    courses = _in_order(judgement, soaks)
    together = overall.overall_of(judgement.findings)
    shown = pooled.beside(courses[-1].header.references.get("pool", ()), courses)
    again = lacking.to_run_again(judgement.findings, courses[-1])
    return {
        "run_again": [asdict(one) for one in again],
        "overall": asdict(together) if together is not None else None,
        "pooled": [asdict(one) for one in shown],
    }


def _in_order(judgement: Judgement, soaks: Sequence[Evidence]) -> list[Course]:
    courses = {course.header.soak_id: course for course in map(course_of, soaks)}
    return [courses[soak_id] for soak_id in judgement.soaks]
