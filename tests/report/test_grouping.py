"""One line for each demand over all parts of the script; nothing gets better by being added up."""

from dataclasses import replace

import pytest
from made_up_report import REQUIREMENTS, findings

from soak.report.grouping import together
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
