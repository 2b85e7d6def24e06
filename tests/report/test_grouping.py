"""One line for each demand over all parts of the script; nothing gets better by being added up."""

from dataclasses import replace

import pytest
from made_up_report import REQUIREMENTS, findings

from soak.report.contents.grouping import together
from soak.rules.core.verdict import Finding, Verdict
from soak.words import NOTHING_SAID

STARTS, PICTURE, CASE = REQUIREMENTS[:3]
UNSAID = (NOTHING_SAID, NOTHING_SAID)


def starts(stretch: str, worked: int, of: int, verdict: Verdict = Verdict.MET) -> Finding:
    """Return a finding on starts of one part of the script."""
    need = replace(STARTS, id=f"{stretch}/s", stretch=stretch)
    failed = of - worked
    return Finding(
        need, verdict, float(failed), 0.0, 0.5, -float(failed), *UNSAID,
        over=float(of),
    )  # fmt: skip


def test_starts_of_all_parts_are_added_up():
    """60 of 60 and 2 of 3 are 62 of 63; the verdict is that of the worse part."""
    (line,) = together([starts("warm", 60, 60), starts("cold", 2, 3, Verdict.NOT_MET)])
    assert (line.found, line.verdict) == ("62 of 63 worked", "not met")
    assert line.parts == ("warm", "cold")


def allowed(finding: Finding, limit: float) -> Finding:
    """Return the same finding where `limit` are allowed."""
    need = replace(finding.requirement, limit=limit)
    return replace(finding, requirement=need, margin=limit - (finding.value or 0.0))


def test_what_is_allowed_in_each_part_is_said_of_each():
    """Six failed of sixty with two allowed in each of three parts are not "at most 2 failed"."""
    parts = [allowed(starts(name, 18, 20), 2.0) for name in ("a", "b", "c")]
    (line,) = together(parts)
    assert (line.found, line.limit) == ("54 of 60 worked", "at most 2 failed in each part")
    assert (line.margin, line.verdict) == ("at the limit", "met")
    assert together(parts[:1])[0].limit == "at most 2 failed"


def test_a_count_beyond_what_one_part_allows_says_so_too():
    """Restarts are added up; one part with three of two is over by one."""
    need = replace(PICTURE, rule="no restart", limit=2.0)
    parts = [
        Finding(replace(need, stretch=name), verdict, n, None, None, 2.0 - n, *UNSAID)
        for name, n, verdict in (("a", 2.0, Verdict.MET), ("b", 3.0, Verdict.NOT_MET))
    ]
    (line,) = together(parts)
    assert (line.found, line.limit, line.margin) == ("5", "at most 2 in each part", "1 over")


def test_a_count_that_may_not_occur_at_all_is_over_by_all_of_it():
    """One break in one part and 25 in another are 26, and 26 too many."""
    parts = [
        Finding(replace(PICTURE, limit=0.0, stretch=name), verdict, n, None, None, -n, *UNSAID)
        for name, n, verdict in (("a", 1.0, Verdict.NOT_MET), ("b", 25.0, Verdict.NOT_MET))
    ]
    (line,) = together(parts)
    assert (line.found, line.limit, line.margin) == ("26", "none allowed", "26 over")


def test_parts_that_allow_different_counts_have_a_line_each():
    """One that allows none and one that allows three share no limit."""
    lines = together([allowed(starts("a", 20, 20), 0.0), allowed(starts("b", 17, 20), 3.0)])
    assert [(line.found, line.limit, line.parts) for line in lines] == [
        ("20 of 20 worked", "none may fail", ("a",)),
        ("17 of 20 worked", "at most 3 failed", ("b",)),
    ]


def test_two_spots_of_one_name_have_a_line_each():
    """Who calls two probes alike still reads of both."""
    room = replace(CASE, id="room", quantity="probe.room")
    parts = [Finding(need, Verdict.MET, 50.0, None, None, 20.0, *UNSAID) for need in (CASE, room)]
    assert len(together(parts)) == 2


@pytest.mark.parametrize("order", [1, -1])
def test_the_worst_verdict_is_the_verdict(order):
    """Not met beats not shown beats met, whichever part came first."""
    parts = [
        starts("a", 3, 3),
        starts("b", 3, 3, Verdict.NOT_SHOWN),
        starts("c", 2, 3, Verdict.NOT_MET),
    ]
    assert together(parts[::order])[0].verdict == "not met"
    assert together(parts[:2][::order])[0].verdict == "not shown"
    assert together(parts[:1])[0].verdict == "met"


def test_breaks_are_added_up_and_a_temperature_is_not():
    """Counts add; of two temperatures the one nearer its limit speaks, with its own margin."""
    breaks = [
        Finding(
            replace(PICTURE, stretch=name),
            Verdict.NOT_MET,
            n,
            None,
            None,
            -n,
            NOTHING_SAID,
            NOTHING_SAID,
        )
        for name, n in (("a", 1.0), ("b", 2.0))
    ]
    (line,) = together(breaks)
    assert line.found == "3"
    warm = [
        Finding(
            replace(CASE, stretch=name),
            Verdict.MET,
            v,
            None,
            None,
            70 - v,
            NOTHING_SAID,
            NOTHING_SAID,
        )
        for name, v in (("a", 54.0), ("b", 61.5), ("c", 40.0))
    ]
    (line,) = together(warm)
    assert (line.found, line.margin) == ("61.5 °C", "8.5 K to spare")


def test_a_rate_is_not_added_up():
    """One short break an hour in each of two parts is one an hour, not two."""
    need = replace(PICTURE, rule="dropouts per hour", limit=1.0)
    parts = [
        Finding(
            replace(need, stretch=name),
            Verdict.MET,
            1.0,
            None,
            None,
            0.0,
            NOTHING_SAID,
            NOTHING_SAID,
        )
        for name in ("a", "b")
    ]
    assert together(parts)[0].found == "1"


def test_what_is_not_met_stands_first_and_nothing_tested_is_lost():
    """Every demand with an verdict has its line; what was not tested stands elsewhere."""
    lines = together(findings())
    assert [line.verdict for line in lines] == ["not met", "not shown", "met", "met"]
    tested = [one for one in findings() if one.verdict is not Verdict.NOT_TESTED]
    assert {line.text for line in lines} == {one.requirement.text for one in tested}


@pytest.mark.parametrize("order", [1, -1])
def test_lines_of_one_verdict_stand_in_the_order_of_a_pages_sections(order):
    """Starts before the picture before heat, whichever check a script names first."""
    parts = [Finding(need, Verdict.MET, 0.0, None, None, 0.0, *UNSAID) for need in REQUIREMENTS[:4]]
    lines = together(parts[::order])
    assert [line.check for line in lines] == ["power_cycles", "picture", "transfer", "spots"]
