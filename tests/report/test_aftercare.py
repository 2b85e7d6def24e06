"""After the test: how long a grade is relied on, what is fit for a listing, how to look again."""

from dataclasses import replace

import pytest
from made_up_report import context, findings, judged, night, sheet_of

from soak.derive.course import course_of
from soak.report.contents.aftercare import at_home, no_picture, rechecks, shelf_life
from soak.report.contents.telling import tell
from soak.rules.core.verdict import Verdict
from soak.words import just


def told(
    script: str = "overnight", powered_s: float = 20_000.0, began: str = "2026-03-01T20:00:00Z"
):
    """Return one soak as a report tells it."""
    one = tell(course_of(night()), (), ())
    wear = one.wear.model_copy(update={"powered_s": powered_s})
    fit = script != "quick"
    said = {"script": script, "wear": wear, "began_utc": began, "fit_for_listing": fit}
    return one.model_copy(update=said)


FORECASTS = ("will last", "guarantee", "probab", "expect", "% sure")
READY = judged(ready=True, because="all met", reason=just("All met."))


def test_the_grade_is_relied_on_for_the_benchs_days():
    """90 days after 1 March 2026 is 30 May 2026 (31 - 1 + 30 + 30 days to the end of May 30)."""
    assert "until 2026-05-30 (90 days" in shelf_life([told()], context())
    assert "until 2026-03-11 (10 days" in shelf_life([told()], context(grade_keeps_days=10))


def test_the_last_soak_counts_for_the_shelf_life():
    """A later soak moves the day; a soak without a clock leaves only the days."""
    later = told(began="2026-03-10T20:00:00Z")
    assert "until 2026-06-08" in shelf_life([told(), later], context())
    assert "for 90 days in store" in shelf_life([told(began="")], context())


def test_a_quick_soak_after_a_long_one_is_a_second_look():
    """Its line names the day; a quick soak alone is none, nor one before the long one."""
    quick = told("quick", began="2026-04-20T09:00:00Z")
    (line,) = rechecks([told(), quick], READY)
    assert line.startswith("Checked again on 2026-04-20")
    assert rechecks([quick, told()], READY) == ("Not checked again since.",)
    assert rechecks([quick], READY) == ("Not checked again since.",)


@pytest.mark.parametrize(
    ("judgement", "soaks", "why"),
    [
        (READY, [told()], ""),
        (judged(), [told()], "not ready: failed"),
        (judged(because="incomplete"), [told()], "not ready: incomplete"),
        (READY, [told("quick")], "only a quick soak was done"),
        (READY, [told("mine", powered_s=1700.0)], "it was under power for less than 30 min"),
        (READY, [told(), told("quick")], ""),
    ],
)
def test_only_a_ready_unit_with_more_than_a_quick_soak_is_fit_for_a_listing(judgement, soaks, why):
    """Each way of not being fit is named; a quick soak beside a long one does no harm."""
    assert no_picture(soaks, judgement, context()) == why


def test_a_buyer_is_told_two_checks_with_what_the_bench_saw():
    """Two of the checks that ran, with the bench's own quickest and slowest start."""
    steps = at_home(judged(), [course_of(night())])
    assert [step.partition(",")[0] for step in steps] == ["Starts", "Picture"]
    took_s = [mark.detail["took_s"] for mark in night().marks("start ended")]
    assert f"came after {min(took_s):.0f} s to {max(took_s):.0f} s" in steps[0]


def test_no_check_is_proposed_that_the_bench_did_not_do():
    """Without a picture check the temperature takes its place; with nothing there is nothing."""
    warm = [one for one in findings() if one.requirement.check in ("power_cycles", "spots")]
    steps = at_home(judged(findings=tuple(warm)), [course_of(night())])
    assert [step.partition(",")[0] for step in steps] == ["Starts", "Warmth"]
    untested = [replace(one, verdict=Verdict.NOT_TESTED) for one in findings()]
    assert at_home(judged(findings=tuple(untested)), [course_of(night())]) == ()


def test_no_step_promises_the_future():
    """A report forecasts nothing: no word of lasting, guarantee or chance stands in its counts."""
    said = sheet_of().report
    words = " ".join([*said.at_home, said.shelf_life, *(one.large for one in said.counts)]).lower()
    assert [one for one in FORECASTS if one in words] == []
    assert [one for one in FORECASTS if one in f"{words} it will last"] == ["will last"]


def test_a_unit_whose_evidence_is_not_what_was_recorded_has_no_picture():
    """Ready by its journal, and yet nobody shall advertise it with pictures that were swapped."""
    spoiled = context(not_as_recorded=[just("1 file is not what was recorded")])
    assert no_picture([told()], READY, spoiled) == "kept evidence is not what was recorded"
