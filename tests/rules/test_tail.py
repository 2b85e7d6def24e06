"""A failure-free end: what a demand for next to nothing may not do."""

from dataclasses import replace

from made_up_soak import clean_night, demand

from soak.judge.judging import judge_requirement
from soak.rules.core.verdict import Verdict


def test_an_end_of_a_second_without_power_shows_nothing():
    """Demanded shorter than the rounding, of a last session without power: not shown, no crash."""
    need = demand("failure free", "", 1.0)
    soak = clean_night().demanding(need)
    first = soak.session_list[0]
    later = replace(
        first, number=2, begins_at_s=soak.ends_s + 60, gap_s=60.0, gap_from="boot clock"
    )
    soak.session_list.append(later)
    soak.ends_s += 120.0
    assert judge_requirement(need, [soak]).verdict is Verdict.NOT_SHOWN
