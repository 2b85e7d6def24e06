"""A plan fixed in the header: accepted, rejected, and what makes an early stop not shown."""

from dataclasses import replace

import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand, fail_start

from soak.derive.course import course_of
from soak.frozen.shape import as_json
from soak.judge.grade import judge
from soak.judge.judging import judge_requirement
from soak.judge.lacking import to_run_again
from soak.judge.planning import hours_plan, starts_plan
from soak.report.contents.wording import as_tested
from soak.rules.core.verdict import Verdict
from soak.statistics.frozen import frozen

TERMS = {"of": "warm starts", "good": 0.01, "bad": 0.20, "good_rejected": 0.1, "bad_accepted": 0.1}
STARTS_PLAN = {**TERMS, **frozen(starts_plan(0.01, 0.20, 0.1, 0.1))}
HOURS = {"of": "hours", "good": 40 * 3600.0, "bad": 3600.0}
HOURS_PLAN = {**HOURS, **frozen(hours_plan(40 * 3600.0, 3600.0, 0.1, 0.1))}
HOT = STARTS_S + 3600.0


def starts_demand():
    params = {"start_limit_s": 50.0, "kinds": ["warm"], "plan": STARTS_PLAN}
    return demand("starts by plan", stretch="starts", check="power_cycles", limit=None,
                  confidence=0.95, params=params)  # fmt: skip


def hours_demand():
    params = {"bad": ["black", "no signal"], "at_least_s": 0.2, "plan": HOURS_PLAN}
    return demand("hours by plan", "capture", None, confidence=0.95, params=params)


def planned(soak, because="accepted by plan"):
    """Let both stretches of a made-up night be ruled and ended by plans."""
    own = soak.demanding(starts_demand(), hours_demand())
    stretches = [
        {**as_json(entry), "plan": plan}
        for entry, plan in zip(own.header.script.stretches, (STARTS_PLAN, HOURS_PLAN), strict=True)
    ]
    own = own.with_header(script={**as_json(own.header.script), "stretches": stretches})
    own.mark_list = [
        replace(mark, detail={**mark.detail, "because": because})
        if mark.what == "stretch ends"
        else mark
        for mark in own.mark_list
    ]
    return own


def finding(soak, rule="starts by plan"):
    return next(one for one in judge([soak]).findings if one.requirement.rule == rule)


def test_good_starts_are_accepted_and_the_risks_are_those_of_the_plan():
    """Outlook of the plan, and the success run of as many starts as it took."""
    plan = starts_plan(0.01, 0.20, 0.1, 0.1)
    found = finding(planned(clean_night()))
    assert found.verdict is Verdict.MET, found.because
    assert found.detail["starts"] == plan.shortest
    assert found.detail["plan"]["bad_accepted"] == pytest.approx(
        plan.outlook(0.2).accepted, abs=1e-6
    )
    assert found.bound_high == pytest.approx(1 - 0.05 ** (1 / plan.shortest))
    assert f"{100 * plan.outlook(0.2).accepted:.1f} %" in found.because


def test_failures_beyond_the_line_are_rejected():
    """Two of the first three starts failed: the plan rejects and points at them."""
    soak = clean_night()
    for at in (0, 1, 2):
        fail_start(soak, at)
    found = finding(planned(soak, "rejected by plan"))
    assert found.verdict is Verdict.NOT_MET
    assert found.pointers


def test_an_early_stop_against_the_plan_is_not_shown():
    """Six good starts and a mark that says accepted: the journal itself shows it was too early."""
    soak = planned(clean_night(starts=6))
    found = finding(soak)
    assert found.verdict is Verdict.NOT_SHOWN
    assert "stopped early against the plan" in found.because
    assert judge([soak]).because == "incomplete"


def test_a_failure_that_was_the_operators_doing_reopens_the_plan():
    """Said afterwards, it makes the early rejection one against the plan: no verdict, no ready."""
    soak = clean_night(starts=4)
    for at in (0, 1, 2):
        fail_start(soak, at)
    soak.mark(STARTS_S, "note", from_s=0.0, to_s=300.0, was_me=True, text="my cable", by="KY")
    found = finding(planned(soak, "rejected by plan"))
    assert found.verdict is Verdict.NOT_SHOWN
    assert "against the plan" in found.because


def test_a_failure_after_the_acceptance_is_not_hidden():
    """The plan had accepted, the stretch went on and a start failed: neither met nor not met."""
    soak = clean_night()
    fail_start(soak, 18)
    found = finding(planned(soak))
    assert found.verdict is Verdict.NOT_SHOWN
    assert "after the plan had accepted" in found.because


def test_a_plan_chosen_afterwards_is_none():
    """The soak's own header knows no plan: looking first and choosing then is no test."""
    found = judge_requirement(starts_demand(), [clean_night()])
    assert found.verdict is Verdict.NOT_SHOWN
    assert "fixed before" in found.because


def test_a_plan_whose_numbers_are_none_is_not_shown():
    """A demand of somebody else's making, its plan cut short: said, and no crash."""
    need = starts_demand()
    plan = {key: value for key, value in STARTS_PLAN.items() if key != "accept_from"}
    own = replace(need, params={**need.params, "plan": plan})
    found = judge_requirement(own, [planned(clean_night())])
    assert found.verdict is Verdict.NOT_SHOWN
    assert "plan.accept_from" in found.because


def test_a_plan_is_read_as_the_count_it_decides_upon():
    """So many of so many starts; its limit is what the plan accepts, and it has no margin."""
    found = finding(planned(clean_night()))
    shortest = starts_plan(0.01, 0.20, 0.1, 0.1).shortest
    told = as_tested(found)
    assert told.found == f"{shortest} of {shortest} worked"
    assert (told.limit, told.margin) == ("as its plan accepts", "–")


def test_quiet_hours_are_accepted_and_a_fault_early_is_not():
    """By hand: good at the first accepting time; a loss before the first rejecting one rejects."""
    plan = hours_plan(40 * 3600.0, 3600.0, 0.1, 0.1)
    good = finding(planned(clean_night()), "hours by plan")
    assert good.verdict is Verdict.MET, good.because
    assert good.detail["hours"] == pytest.approx(plan.shortest / 3600, abs=1e-6)
    assert 3600 / good.bound_high == pytest.approx(plan.shortest / 2.99573, rel=1e-5)
    soak = clean_night()
    for at in range(len(plan.accept_at)):
        soak.spell("capture", HOT + 60 * at, HOT + 60 * at + 3, "black")
    bad = finding(planned(soak, "rejected by plan"), "hours by plan")
    assert bad.verdict is Verdict.NOT_MET
    assert "The plan rejects here" in bad.because


def test_blind_time_is_no_time_of_the_plan():
    """Blind for most of the hot run: the plan has not decided and says how much more would do."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + HOT_S - 7200, "blind")
    found = finding(planned(soak), "hours by plan")
    assert found.verdict is Verdict.NOT_SHOWN
    assert "more without a dropout would do" in found.because


def test_what_to_run_again_is_what_the_plan_lacks():
    """Six starts of the plan's shortest: so many more, none failed."""
    soak = planned(clean_night(starts=6), "stopped")
    shortest = starts_plan(0.01, 0.20, 0.1, 0.1).shortest
    again = to_run_again([finding(soak)], course_of(soak))
    assert again[0].lacks_starts == shortest - 6


def test_no_other_finding_of_the_stretch_states_a_fixed_bound():
    """The plan ended the time by what it saw, so the chi-square bound of restarts is left out."""
    soak = planned(clean_night())
    restarts = demand("no restart", "capture", confidence=0.95, params={"bad": ["black"]})
    free = judge_requirement(restarts, [clean_night()])
    ruled = judge_requirement(restarts, [soak.demanding(*soak.header.requirements, restarts)])
    assert free.bound_high is not None
    assert (ruled.bound_low, ruled.bound_high) == (None, None)
    assert "no bound is stated" in ruled.method


def test_an_earlier_soak_that_the_plan_rejected_keeps_the_job_failed():
    """Rejected one night, accepted the next: passing on the second try is not passing."""
    first = clean_night("S1")
    for at in (0, 1, 2):
        fail_start(first, at)
    second = clean_night("S2", "2026-01-06T21:00:00Z")
    judgement = judge([planned(first, "rejected by plan"), planned(second)])
    assert judgement.because == "failed"


def tries(*failed_at, last=(), stopped_after=4):
    """Return soaks stopped after a few starts, those at `failed_at` failed, then a whole one."""
    made = []
    for number, at in enumerate(failed_at):
        soak = clean_night(f"S{number}", f"2026-01-0{number + 1}T21:00:00Z", starts=stopped_after)
        if at is not None:
            fail_start(soak, at)
        made.append(planned(soak, "stopped"))
    soak = clean_night("S9", "2026-01-09T21:00:00Z")
    for at in last:
        fail_start(soak, at)
    return [*made, planned(soak)]


def starts_of(soaks):
    return next(one for one in judge(soaks).findings if one.requirement.rule == "starts by plan")


def test_all_tries_under_one_plan_count():
    """Ten soaks stopped at their first failure, then a clean one: by all of them it is rejected."""
    found = starts_of(tries(*[3] * 6))
    assert found.verdict is Verdict.NOT_MET, found.because


def test_a_plan_stopped_before_it_decided_goes_on_in_the_next_soak():
    """Four good starts, then the rest: it accepts after as many as in one go, and says so."""
    shortest = starts_plan(0.01, 0.20, 0.1, 0.1).shortest
    found = starts_of(tries(None))
    assert found.verdict is Verdict.MET, found.because
    assert found.over == shortest
    assert "4 of them were made in earlier tries, 0 failed" in found.because


def test_failures_under_another_plan_count_and_its_good_starts_do_not():
    """A plan made easier after a failure was seen gives no new chance at the stated risk."""
    other = {**TERMS, **frozen(starts_plan(0.02, 0.30, 0.1, 0.1))}
    first, last = tries(3)
    (need, more) = first.header.requirements
    first = first.demanding(replace(need, params={**need.params, "plan": other}), more)
    carried_on, alone = starts_of([first, last]), starts_of([last])
    assert carried_on.over > alone.over
    assert "1 failure under another plan counts along" in carried_on.because


def test_after_an_acceptance_a_plan_begins_anew():
    """A second whole soak is accepted by its own starts."""
    soaks = [planned(clean_night("S1")), planned(clean_night("S2", "2026-01-06T21:00:00Z"))]
    found = starts_of(soaks)
    assert found.verdict is Verdict.MET
    assert "earlier tries" not in found.because


def test_hours_of_all_tries_count():
    """An hour with a dropout in each of three tries, then a quiet night: it is not accepted."""
    made = []
    for number in range(4):
        soak = clean_night(f"S{number}", f"2026-01-0{number + 1}T21:00:00Z")
        if number < 3:
            for at in range(2):
                soak.spell("capture", HOT + 300 * at, HOT + 300 * at + 3, "no signal")
        made.append(planned(soak, "stopped" if number < 3 else "accepted by plan"))
    found = next(o for o in judge(made).findings if o.requirement.rule == "hours by plan")
    assert found.verdict is not Verdict.MET, found.because
