"""Late reads, slow drift, and sticks that hold less than they claim."""

from dataclasses import replace

import numpy as np
import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand
from scipy.stats import chi2, theilslopes

from soak.judge.grade import judge
from soak.report.contents.wording import as_tested, counts_of
from soak.rules.core.verdict import Verdict
from soak.rules.transfer_trend import drift_of, usual_and_late_s

LATE = demand("few late reads", "transfer.stick.read_s", 6.0, check="transfer", unit="1/h")
DRIFT = demand("no slow drift", "transfer.stick.speed", 0.2, check="transfer")
HOLDS = demand("holds what it claims", "stick", 0.0, check="transfer", unit="B")


def night(read_s=None, speed=None):
    """Return a night with these durations of reads, or these speeds, in four hours."""
    soak = clean_night()
    t_s = soak.readings["transfer.stick.speed"][0]
    chance = np.random.default_rng(5)
    usual = 0.14 * np.exp(chance.normal(0, 0.02, len(t_s)))
    soak.readings["transfer.stick.read_s"] = (t_s, usual if read_s is None else read_s(t_s, usual))
    if speed is not None:
        noisy = 30e6 * np.exp(chance.normal(0, 0.05, len(t_s)))
        soak.readings["transfer.stick.speed"] = (t_s, noisy * speed((t_s - STARTS_S) / HOT_S))
    return soak


def found(soak, requirement):
    """Judge one requirement."""
    return judge([soak.demanding(requirement)]).findings[0]


def with_late(every):
    """Return durations of which every so many-th took 1.2 s, as a retry makes them."""

    def spoil(t_s, usual):
        slow = usual.copy()
        slow[::every] = 1.2
        return slow

    return spoil


def test_reads_without_retries_are_met_with_a_bound():
    """No late read in four hours: met, and the rate is below 0.75 an hour at 95 % (8.4.5.1)."""
    finding = found(night(), LATE)
    assert finding.verdict is Verdict.MET
    assert finding.value == 0
    assert finding.bound_high == pytest.approx(-np.log(0.05) / 4, rel=0.01)


def test_reads_that_retries_made_late_are_found_though_every_byte_is_right():
    """72 of 1440 reads took 1.2 s instead of 0.14 s: 18 an hour are too many, 4.5 are not."""
    assert found(night(with_late(80)), LATE).verdict is Verdict.MET
    doubtful = found(night(with_late(80)), replace(LATE, limit=4.0))  # 4.6 an hour, surely 3.0
    assert doubtful.verdict is Verdict.MET
    surely_per_h = chi2.ppf(0.05, 2 * 19) / 2 / 4  # NIST/SEMATECH e-Handbook 8.4.5.1
    assert doubtful.detail["late"] == 19
    assert doubtful.margin == pytest.approx(4.0 - surely_per_h, rel=0.01)
    finding = found(night(with_late(20)), LATE)
    assert finding.verdict is Verdict.NOT_MET
    assert finding.detail["late"] == 73  # every twentieth of 1441, the first included
    assert finding.value == pytest.approx(18, abs=0.5)
    assert finding.detail["late_from_s"] == pytest.approx(0.24, abs=0.01)


def test_reads_that_were_late_as_the_computer_stood_still_are_not_the_units():
    """Each of them took as much longer as nothing at all ran here: known for every source."""
    soak = night(with_late(20))
    for t_s in soak.readings["transfer.stick.read_s"][0][::20]:
        soak.mark(t_s, "stood still", for_s=1.1, spans=[[t_s - 1.15, t_s - 0.05]])
    finding = found(soak, LATE)
    assert finding.verdict is Verdict.MET
    assert finding.value == 0


def busy(soak, waited_s, every=20):
    """Let this computer have waited for a processor in each so many-th read."""
    t_s = soak.readings["transfer.stick.read_s"][0][::every]
    soak.readings["transfer.stick.read_wait_s"] = (t_s, np.full(len(t_s), waited_s))
    return soak


def test_reads_that_may_have_waited_for_a_processor_are_in_doubt_not_the_units():
    """All that made them late may be a busy computer: never charged, never called fine."""
    finding = found(busy(night(with_late(20)), 1.1), LATE)
    assert finding.verdict is Verdict.NOT_SHOWN
    assert finding.detail["late"] == 0
    assert finding.detail["doubtful"] == 73
    assert "73 late reads" in str(finding.because)


def test_a_few_reads_in_doubt_do_not_keep_the_rest_from_being_shown():
    """18 in four hours are as few as are allowed, so it does not matter whose they are."""
    finding = found(busy(night(with_late(80)), 1.1, every=80), LATE)
    assert finding.verdict is Verdict.MET
    assert finding.detail["doubtful"] == 19
    assert "busy" in str(finding.because)


def test_reads_that_waited_for_a_processor_only_a_little_are_the_units():
    """0.3 s of waiting explain none of the 1.2 s that a retry took."""
    finding = found(busy(night(with_late(20)), 0.3), LATE)
    assert finding.verdict is Verdict.NOT_MET
    assert finding.detail["late"] == 73


def test_a_stall_is_one_though_the_computer_stood_still_for_a_moment_of_it():
    """16 s in one chunk, 0.2 s of them unseen: still longer than any is allowed to take."""
    soak = clean_night()
    t_s, value = soak.readings["transfer.stick.chunk_s"]
    value[700] = 15.9
    at_s = float(t_s[700]) - 8
    soak.mark(at_s, "stood still", for_s=0.2, spans=[[at_s - 0.2, at_s]])
    stall = demand("no stall", "transfer.stick.chunk_s", 5.0, check="transfer", unit="s")
    finding = found(soak, stall)
    assert finding.verdict is Verdict.NOT_MET
    assert finding.value == pytest.approx(15.7, abs=0.01)


def test_the_noise_of_a_busy_computer_is_not_late():
    """Durations that scatter by a third have no late ones among them."""
    finding = found(night(lambda t_s, usual: usual * np.where(t_s % 20 < 10, 1.0, 1.33)), LATE)
    assert finding.verdict is Verdict.MET


def test_what_is_late_is_told_by_median_and_median_deviation():
    """Median 3 and median deviation 1 of 1, 2, 3, 4, 100: worked by hand after the definition."""
    usual_s, late_s = usual_and_late_s(np.array([1.0, 2.0, 3.0, 4.0, 100.0]))
    assert usual_s == 3.0
    assert late_s == pytest.approx(3.0 + 10 * 1.4826)


def test_a_speed_that_falls_slowly_is_found_before_it_halves():
    """30 % lost evenly over four hours is not met, though it still has 70 % of its speed."""
    finding = found(night(speed=lambda part: 1 - 0.3 * part), DRIFT)
    assert finding.verdict is Verdict.NOT_MET
    assert finding.value == pytest.approx(0.3, abs=0.02)
    assert finding.bound_low < finding.value < finding.bound_high


@pytest.mark.parametrize("lost", [0.0, 0.1, -0.2])
def test_noise_and_small_or_rising_speeds_are_no_drift(lost):
    """Scatter of 5 % with 10 % lost, or gained, is within what is allowed."""
    finding = found(night(speed=lambda part: 1 - lost * part), DRIFT)
    assert finding.verdict is Verdict.MET
    assert finding.value == pytest.approx(lost, abs=0.02)


def test_a_single_deep_dip_is_no_drift():
    """Ten minutes at a tenth of the speed are other rules' business: the slope is robust."""
    finding = found(night(speed=lambda part: np.where((part > 0.9) & (part < 0.94), 0.1, 1)), DRIFT)
    assert finding.verdict is Verdict.MET
    assert abs(finding.value) < 0.02


def test_the_slope_is_the_published_estimator_where_nothing_is_put_together():
    """With fewer readings than parts it is that of scipy, the reference here."""
    t_s = np.arange(50.0)
    speed = 100 - 0.4 * t_s + np.random.default_rng(2).normal(0, 3, 50)
    slope, middle, low, high = theilslopes(speed, t_s, 0.95)
    drift = drift_of(t_s, speed, 0.95)
    assert drift.lost == pytest.approx(-slope * 49 / middle)
    assert (drift.least, drift.most) == pytest.approx((-high * 49 / middle, -low * 49 / middle))


def test_too_few_readings_show_no_drift():
    """Nine readings are none to draw a slope through."""
    soak = night()
    t_s, speed = soak.readings["transfer.stick.speed"]
    soak.readings["transfer.stick.speed"] = (t_s[:9], speed[:9])
    assert found(soak, DRIFT).verdict is Verdict.NOT_SHOWN


def capacity(**detail):
    """Return a night in which a stick was filled."""
    soak = clean_night()
    soak.mark(STARTS_S + 600, "capacity", "hot run", "transfer", **detail)
    return soak


def test_a_stick_that_wraps_is_said_to_claim_and_to_hold():
    """Claims 64 GB, holds 8 GB: not met in just these words."""
    finding = found(
        capacity(
            claims_bytes=64 * 10**9, tried_bytes=0, holds_bytes=8 * 10**9, wraps_bytes=8 * 10**9
        ),
        HOLDS,
    )
    assert finding.verdict is Verdict.NOT_MET
    assert "claims 64 GB, holds 8 GB" in finding.because
    assert finding.value == 56e9


def test_a_stick_of_which_all_that_was_tried_came_back_holds_what_it_claims():
    """What is kept free or belongs to the file system is not counted against it."""
    tried = 60 * 10**9
    finding = found(capacity(claims_bytes=64 * 10**9, tried_bytes=tried, holds_bytes=tried), HOLDS)
    assert finding.verdict is Verdict.MET
    assert "all 60 GB tried came back right" in finding.because


def test_a_stick_that_was_not_filled_shows_nothing_of_its_size():
    """Without the mark there is no finding."""
    assert found(clean_night(), HOLDS).verdict is Verdict.NOT_SHOWN


def test_a_false_stick_of_the_bench_is_named_but_not_charged_to_the_unit():
    """In the bench's own computer it says nothing of the unit, but to take another stick."""
    soak = capacity(
        claims_bytes=64 * 10**9, tried_bytes=0, holds_bytes=8 * 10**9, wraps_bytes=8 * 10**9
    )
    bench_only = demand("holds what it claims", "stick", 0.0, params={"path": "bench_only"})
    finding = found(soak, bench_only)
    assert finding.verdict is Verdict.NOT_TESTED
    assert "holds 8 GB" in finding.aside
    assert "another stick" in finding.aside


@pytest.mark.parametrize("requirement", [LATE, DRIFT])
def test_a_stick_in_the_benchs_own_computer_tests_no_port(requirement):
    """What did not cross the unit's port is not tested, however late or slow it came."""
    stick = {**clean_night().header.fixture.as_json()["stick"], "path": "bench_only"}
    soak = night(with_late(20), lambda part: 1 - 0.5 * part)
    soak = soak.with_header(fixture={**soak.header.fixture.as_json(), "stick": stick})
    assert found(soak, requirement).verdict is Verdict.NOT_TESTED


@pytest.mark.parametrize("requirement", [LATE, DRIFT])
def test_a_bench_that_was_blind_too_long_shows_neither(requirement):
    """Half an hour without sight of the stick is more than may be missing."""
    soak = night()
    soak.spell("stick", STARTS_S + 3600, STARTS_S + 5400, "blind")
    assert found(soak, requirement).verdict is Verdict.NOT_SHOWN


def test_late_reads_are_told_with_the_bound_that_decides():
    """73 in 4 h: surely chi2(5 %, 146) / 8 = 14.9 an hour (e-Handbook 8.4.5.1, one-sided)."""
    finding = found(night(with_late(20)), LATE)
    assert f"surely {chi2.ppf(0.05, 2 * 73) / 8:.3g} an hour" in finding.because
    said = as_tested(finding).bound
    assert said.startswith("Less often than 1 bout in ")
    assert said.endswith("of such running (95 % confidence)")


def test_data_that_came_right_is_read_large_by_what_was_written():
    """Two nights of 5.76 GB each are one count; what was not written is not claimed."""
    need = demand("no wrong data", "transfer.stick.damaged", check="transfer", unit="B")
    first = found(night(), need)
    second = replace(first, requirement=replace(need, stretch="warm run"))
    (count,) = counts_of([first, second])
    assert count.large == "all of 11.53 GB written came back right"
    assert counts_of([replace(first, over=0.0)]) == ()
