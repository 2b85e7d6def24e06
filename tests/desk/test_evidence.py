"""What evidence shows, asked both ways: figures, words, and mistakes as one sentence."""

import json
import tomllib

import pytest

from soak.checks.base import all_checks
from soak.desk.forecast import evidence, evidence_counts
from soak.desk.forecast.evidence_counts import Asked, Hours, Starts
from soak.errors import UsageError
from soak.run.script import script_from
from soak.statistics.frozen import thawed


def asked(what, *given, **named):
    return json.loads(what(*given, **named, as_json=True))


def starts(good=None, failed=0, show=None, confidence=0.95, other=None, **how):
    how = Asked(confidence, **how)
    return asked(evidence_counts.starts, Starts(good, failed), show, how, other or Starts())


def hours(clean="", faults=0, show="", confidence=0.95, other=None, **how):
    how = Asked(confidence, **how)
    return asked(evidence_counts.hours, Hours(clean, faults), show, how, other or Hours())


def gone(seen, seen_in, clean="", again=0, chance=0.05):
    return asked(evidence.gone, seen, seen_in, clean, again, chance)


def test_120_good_starts_show_one_in_forty():
    """Success run: 1 - 0.05^(1/120) = 2.47 %."""
    assert starts(good=120)["bound_high"] == pytest.approx(1 - 0.05 ** (1 / 120))
    words = evidence_counts.starts(Starts(120), None, Asked(), as_json=False)
    assert words.startswith("120 of 120 starts worked.")
    assert "2.47 %" in words
    assert "no forecast" in words


def test_one_in_a_hundred_takes_299_starts_and_300_hours():
    """The success-run table says 299 at 95 %; -ln(0.05) = 2.9957 says 299.57 h for 100 h."""
    assert starts(show=0.01)["starts_needed"][0] == 299
    assert hours(show="0.01")["hours_needed"][0] == pytest.approx(299.573, abs=1e-3)
    assert hours(show="100 h") == hours(show="0.01")


def test_both_ways_agree():
    """As many starts as are said to be needed do show the share, and one less does not."""
    for failed, needed in enumerate(starts(show=0.02)["starts_needed"]):
        assert starts(needed - failed, failed)["bound_high"] <= 0.02
        assert starts(needed - failed - 1, failed)["bound_high"] > 0.02


def test_800_hours_with_two_faults_are_the_handbooks():
    """NIST/SEMATECH e-Handbook 8.4.5.1: 127 to 2251 h at 90 %, so 127 h at 95 % on one side."""
    found = hours("800", 2, confidence=0.9, sides="two")
    assert (found["mean_bound_low_h"], found["mean_bound_high_h"]) == pytest.approx(
        (127.07, 2251.2), rel=1e-4
    )
    alone = hours("800", 2)
    assert alone["mean_bound_low_h"] == pytest.approx(127.07, rel=1e-4)
    assert "mean_bound_high_h" not in alone


def test_20_starts_with_four_failed_are_the_handbooks():
    """NIST/SEMATECH e-Handbook 7.2.4.1: 0.0714 to 0.4010 at 90 %; the upper one alone at 95 %."""
    both = starts(16, 4, confidence=0.9, sides="two")
    assert (both["bound_low"], both["bound_high"]) == pytest.approx((0.071354, 0.401029), abs=5e-6)
    alone = starts(16, 4)
    assert alone["bound_high"] == pytest.approx(0.401029, abs=5e-6)
    assert "bound_low" not in alone


def test_two_sides_hold_together_with_none_failed_too():
    """0 of 20 at 95 %, two-sided: 1 - 0.025^(1/20) = 16.8 %; one-sided 13.9 %."""
    assert starts(20, sides="two")["bound_high"] == pytest.approx(1 - 0.025 ** (1 / 20))
    assert starts(20)["bound_high"] == pytest.approx(1 - 0.05 ** (1 / 20))


def test_more_than_two_may_fail_if_it_is_said_before():
    """Half the tabled chi-square quantile at 90 % (e-Handbook 8.3.1.2): 7.9936 with 4 allowed."""
    needed_h = hours(show="200 h", confidence=0.9, may_fail=4)["hours_needed"]
    assert needed_h[4] == pytest.approx(1598.7, abs=0.05)
    needed = starts(show=0.05, may_fail=6)["starts_needed"]
    assert len(needed) == 7
    assert all(starts(n - bad, bad)["bound_high"] <= 0.05 for bad, n in enumerate(needed))
    assert all(starts(n - 1 - bad, bad)["bound_high"] > 0.05 for bad, n in enumerate(needed))


def test_two_rates_are_compared_by_the_exact_test():
    """Rothman's breast-cancer table by scipy's binomial test; 2 against 10 by hand, 79/4096."""
    found = hours("28010", 41, other=Hours("19017", 15), sides="two")
    assert found["chance"] == pytest.approx(0.0408520, abs=5e-7)
    assert hours("1000", 2, other=Hours("1000", 10))["chance"] == pytest.approx(79 / 4096)


def test_two_shares_are_compared_by_fishers_test():
    """Fisher's tea (1935): 3 of 4 against 1 of 4 is luck in 17 / 70, either way in 34 / 70."""
    assert starts(3, 1, other=Starts(1, 3))["chance"] == pytest.approx(17 / 70)
    assert starts(3, 1, other=Starts(1, 3), sides="two")["chance"] == pytest.approx(34 / 70)
    assert starts(1, 3, other=Starts(3, 1))["chance"] == pytest.approx(69 / 70)


def test_hours_may_be_written_with_their_unit():
    """Eight, 8 h and 480 min are the same time."""
    assert hours("8") == hours("8 h") == hours("480 min")


def test_a_fault_seen_three_times_says_how_long_clean():
    """Seen 3 times in 4 h: 6.9 h for 5 %, 14.6 h for 1 %; 7 h are enough."""
    assert gone(3, "4 h")["quiet_needed_h"] == pytest.approx(6.9, abs=0.05)
    assert gone(3, "4 h", chance=0.01)["quiet_needed_h"] == pytest.approx(14.6, abs=0.05)
    assert gone(3, "4 h", "7 h")["lacking_h"] == 0
    assert gone(3, "4 h", "6 h")["lacking_h"] > 0


def test_a_fault_that_came_again_is_not_gone():
    """However seldom: the words say so, and name the test that compares both rates."""
    words = evidence.gone(10, "4 h", "8 h", 1, 0.05, as_json=False)
    assert "it is not gone" in words
    assert "Poisson" in words


def test_a_plan_says_its_longest_time_first_and_its_true_risks():
    """The night is planned for the longest time, not for the usual one."""
    words = evidence.plan("0.01", "0.10", 0.05, 0.10, as_json=False)
    found = asked(evidence.plan, "0.01", "0.10", 0.05, 0.10)
    assert words.startswith(f"At most {found['longest']} starts")
    assert found["good_rejected"] <= 0.05
    assert found["bad_accepted"] <= 0.10
    assert "True risks" in words


@pytest.mark.parametrize(
    ("asked_for", "check"),
    [(("0.01", "0.10"), "power_cycles"), (("100 h", "10 h"), "picture")],
)
def test_the_lines_for_a_script_are_a_plan_that_a_script_takes(asked_for, check):
    """What is printed, pasted into a stretch, makes the very plan that was told."""
    words = evidence.plan(*asked_for, 0.05, 0.10, as_json=False)
    _, _, lines = words.partition("[stretch.plan]")
    head = 'name = "pasted"\nnot_after = "216 h"\n[[stretch]]\nname = "one"\n'
    text = f"{head}[stretch.{check}]\n[stretch.plan]{lines}"
    script = script_from(tomllib.loads(text), "pasted.toml", all_checks())
    told = asked(evidence.plan, *asked_for, 0.05, 0.10)
    made = thawed(script.stretches[0].plan)
    longest = told["longest"] if check == "power_cycles" else told["longest_h"] * 3600
    assert made.longest == pytest.approx(longest)


@pytest.mark.parametrize(("good", "bad"), [("100 h", "10 h"), ("100", "10"), ("6000 min", "10 h")])
def test_a_plan_for_hours_is_known_by_its_times(good, bad):
    """Durations, and plain numbers too large for shares, make a plan in hours."""
    found = asked(evidence.plan, good, bad, 0.1, 0.1)
    assert found["kind"] == "hours"
    assert found["longest_h"] == pytest.approx(found["accept_at_h"][-1])


def test_a_unit_bad_in_three_of_ten_passes_one_of_three_tries():
    """1 - 0.7^3 = 0.657."""
    assert asked(evidence.tries, 0.3, 3)["passes_one"] == pytest.approx(0.657)


@pytest.mark.parametrize(
    ("mistake", "says"),
    [
        (lambda: starts(), "give either"),
        (lambda: starts(good=3, show=0.1), "give either"),
        (lambda: starts(good=120, confidence=95), "write 0.95"),
        (lambda: starts(good=-3), "impossible"),
        (lambda: starts(good=0), "impossible"),
        (lambda: starts(good=3, failed=-4), "impossible"),
        (lambda: starts(show=1.5), "between 0 and 1"),
        (lambda: starts(show=0.0), "between 0 and 1"),
        (lambda: starts(good=3, may_fail=2), "fixed before"),
        (lambda: starts(show=0.1, may_fail=-1), "impossible"),
        (lambda: starts(show=0.1, failed=2), "before anything is counted"),
        (lambda: starts(show=0.1, other=Starts(3)), "before anything is counted"),
        (lambda: starts(good=3, other=Starts(None, 3)), "--other-good is missing"),
        (lambda: starts(good=3, other=Starts(-4, 3)), "impossible"),
        (lambda: hours("8", may_fail=2), "fixed before"),
        (lambda: hours("8", other=Hours("", 3)), "--other-clean is missing"),
        (lambda: hours("8", other=Hours("soon", 3)), "not a duration"),
        (lambda: hours(show="8 h", faults=2), "before anything is counted"),
        (lambda: hours("eight"), "not a duration"),
        (lambda: hours("-8"), "impossible"),
        (lambda: hours("nan"), "impossible"),
        (lambda: hours("8", -1), "impossible"),
        (lambda: hours(show="0"), "faults per hour"),
        (lambda: gone(0, "4 h"), "never seen"),
        (lambda: gone(3, "0 h"), "impossible"),
        (lambda: gone(3, "4 h", again=1), "--clean is missing"),
        (lambda: gone(3, "4 h", chance=5), "between 0 and 1"),
        (lambda: asked(evidence.tries, 30, 3), "impossible"),
        (lambda: asked(evidence.plan, "0.10", "0.01", 0.05, 0.1), "below the bad one"),
        (lambda: asked(evidence.plan, "100 h", "soon", 0.05, 0.1), "not a duration"),
        (lambda: asked(evidence.plan, "0.01", "0.10", 5, 0.1), "between 0 and 1"),
    ],
)
def test_a_mistake_is_one_sentence(mistake, says):
    """What cannot be asked so is refused in one line that says why."""
    with pytest.raises(UsageError) as refused:
        mistake()
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)
