"""Rules on the unit's port judge only soaks in which data crosses that port."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.records import Requirement
from soak.rules.core.finding import not_tested
from soak.rules.core.rule import Judging
from soak.rules.core.verdict import Finding
from soak.words import msg

BENCH_ONLY = msg(
    "the stick hung on the bench's own computer, which says nothing about the unit's port"
)


def on_units_port(judging: Judging) -> Judging:
    """Let a rule judge only soaks in which data crosses the unit's own port."""

    def judged(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
        if requirement.params.get("path") == "bench_only":
            return not_tested(requirement, BENCH_ONLY)
        crossing = [course for course in soaks if course.stick_proves_unit]
        return judging(requirement, crossing) if crossing else not_tested(requirement, BENCH_ONLY)

    return judged
