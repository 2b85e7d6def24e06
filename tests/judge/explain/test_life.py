"""Life data: published fits and worked examples, and refusal where the data hold nothing."""

import csv
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import beta, weibull_min
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from soak.errors import UsageError
from soak.judge.explain.life import Life, Weibull, fails_within, fit_weibull, kaplan_meier, log_rank
from soak.judge.explain.soak_length import Costs, cheapest_length_h, cost, length_bounds_h
from soak.statistics.bounds import mtbf

# Time in days and whether they died of 228 patients, anonymous: Loprinzi et al., Journal of
# Clinical Oncology 12 (1994) 601-607, as in the R package survival.
LUNG = Path(__file__).parents[2] / "data" / "life" / "lung.csv"

# Bearing cage field data: Meeker & Escobar 1998, table C.5; 1703 units, 6 failures (hours).
CAGE_FAILED = [230, 334, 423, 990, 1009, 1510]
CAGE_WORKING = [
    *((50, 288), (150, 148), (250, 124), (350, 111), (450, 106), (550, 99), (650, 110)),
    *((750, 114), (850, 119), (950, 127), (1050, 123), (1150, 93), (1250, 47), (1350, 41)),
    *((1450, 27), (1650, 6), (1850, 1), (2050, 2), (650, 0)),
]
CAGE_WORKING = [(time, number) for time, number in CAGE_WORKING if number] + [(1550, 11)]
# Ball bearings: Lieblein & Zelen 1956, millions of revolutions to failure, n = 23.
BALLS = [
    *(17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.40, 51.84, 51.96, 54.12, 55.56, 67.80),
    *(68.64, 68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40),
]
# Remission in weeks, 6-MP arm: Freireich et al. 1963, Blood 21, 699-716 (data entered from memory;
# the estimates below are in many textbooks).
MP6_FAILED = [6, 6, 6, 7, 10, 13, 16, 22, 23]
MP6_WORKING = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
# Psychiatric patients of Iowa, Woolson, Biometrics 37 (1981) 687-696, data set `psych` of the R
# package KMsurv: age at admission, years watched, whether they died. A death is on record only
# from the age at admission on.
PATIENTS = [
    *((51, 1, 1), (58, 1, 1), (55, 2, 1), (28, 22, 1), (21, 30, 0), (19, 28, 1), (25, 32, 1)),
    *((48, 11, 1), (47, 14, 1), (25, 36, 0), (31, 31, 0), (24, 33, 0), (25, 33, 0), (30, 37, 0)),
    *((33, 35, 0), (36, 25, 1), (30, 31, 0), (41, 22, 1), (43, 26, 1), (45, 24, 1), (35, 35, 0)),
    *((29, 34, 0), (35, 30, 0), (32, 35, 1), (36, 40, 1), (32, 39, 0)),
]
PSYCH = [Life(age + years, bool(died), age) for age, years, died in PATIENTS]


def lives(failed, working):
    """Return lives watched from their beginning: ages at failure, and ages of those that worked."""
    weighted = [one if isinstance(one, tuple) else (one, 1) for one in working]
    return [
        *(Life(time, True) for time in failed),
        *(Life(time, False, units=number) for time, number in weighted),
    ]


def test_the_bearing_cage_fit_is_the_published_one():
    """Meeker & Escobar example 8.16: shape 2.035, B10 3903 h; reference fit 11792.18, -76.4369."""
    fit = fit_weibull(lives(CAGE_FAILED, CAGE_WORKING))
    assert sum(number for _, number in CAGE_WORKING) == 1697
    assert fit.shape == pytest.approx(2.035319, rel=1e-4)
    assert fit.scale == pytest.approx(11792.178, rel=1e-4)
    assert fit.life(0.1) == pytest.approx(3903, abs=1)
    assert fit.log_likelihood == pytest.approx(-76.436896, abs=1e-4)


def test_the_ball_bearing_fit_is_the_published_one_and_the_librarys():
    """Lawless 1982: 2.10 and 81.88 (from memory); scipy's own fit agrees."""
    fit = fit_weibull(lives(BALLS, []))
    shape, _, scale = weibull_min.fit(BALLS, floc=0)
    assert (fit.shape, fit.scale) == pytest.approx((2.101846, 81.874527), rel=1e-4)
    assert (fit.shape, fit.scale) == pytest.approx((shape, scale), rel=1e-3)


def test_survival_of_the_remission_data_is_the_textbooks():
    """Kaplan-Meier of the 6-MP arm: S(6) .8571 ... S(23) .4482; of the placebo arm S(8) .3810."""
    treated = kaplan_meier(lives(MP6_FAILED, MP6_WORKING))
    wanted = {6: 0.8571, 7: 0.8067, 10: 0.7529, 13: 0.6902, 16: 0.6275, 22: 0.5378, 23: 0.4482}
    assert {t: round(treated.at(t), 4) for t in wanted} == wanted
    placebo = kaplan_meier(lives(PLACEBO, []))
    assert [round(placebo.at(t), 4) for t in (1, 8, 12)] == [0.9048, 0.3810, 0.1905]
    assert treated.at(1) == 1.0


def scipys_fit(failed, working):
    """Return shape and scale as scipy's censored maximum likelihood finds them."""
    from scipy.stats import CensoredData

    right = [time for time, number in working for _ in range(number)]
    shape, _, scale = weibull_min.fit(CensoredData(uncensored=failed, right=right), floc=0)
    return shape, scale


# Diesel generator fans: Nelson, Applied Life Data Analysis (1982); 70 units, 12 failures (hours).
FANS_FAILED = [450, 1150, 1150, 1600, 2070, 2070, 2080, 3100, 3450, 4600, 6100, 8750]
FANS_WORKING = [
    *((460, 1), (1560, 1), (1660, 1), (1850, 5), (2030, 3), (2200, 1), (3000, 4), (3200, 1)),
    *((3750, 2), (4150, 4), (4300, 4), (4850, 4), (5000, 3), (6100, 3), (6300, 1), (6450, 2)),
    *((6700, 1), (7450, 1), (7800, 2), (8100, 2), (8200, 1), (8500, 3), (8750, 2), (9400, 1)),
    *((9900, 1), (10100, 3), (11500, 1)),
]
# A car's part: Krivtsov & Case, SAE Technical Paper 1999-01-3220 (distance to failure).
CAR_FAILED = [5248, 7454, 16890, 17200, 38700, 45000, 49390, 69040, 72280, 131900]
CAR_WORKING = [
    *(3961, 4007, 4734, 6054, 7298, 10190, 23060, 27160, 28690, 37100, 40060, 45670, 53000),
    *(67000, 69630, 77350, 78470, 91680, 105700, 106300, 150400),
]
# Electronics, 4082 units of which 10 failed, all long before the others were last seen: data set
# `electronics` of the Python package reliability 0.9.0.
PARTS_FAILED = [220, 179, 123, 146, 199, 181, 191, 216, 1, 73]
PARTS_WORKING = [(44798, 817), (62715, 823), (81474, 815), (80632, 813), (62716, 804)]


def test_the_generator_fans_fit_is_the_published_one():
    """Nelson 1982: shape 1.06, scale 26.3 thousand hours; lifelines 0.30.3 and scipy agree."""
    fit = fit_weibull(lives(FANS_FAILED, FANS_WORKING))
    hours = sum(FANS_FAILED) + sum(time * number for time, number in FANS_WORKING)
    assert (hours, sum(number for _, number in FANS_WORKING)) == (344_440, 58)
    assert (fit.shape, fit.scale) == pytest.approx((1.058446, 26296.85), rel=1e-5)
    assert fit.log_likelihood == pytest.approx(-135.15272, abs=1e-4)
    assert (fit.shape, fit.scale) == pytest.approx(scipys_fit(FANS_FAILED, FANS_WORKING), rel=1e-4)


def test_the_fans_exponential_mean_is_time_by_failures():
    """Constant rate: 344 440 h and 12 failures are 28 703.33 h exactly, inside its bounds."""
    mean = 344_440.0 / 12
    low, high = mtbf(12, 344_440.0, 0.90)
    assert mean == pytest.approx(28_703.33, abs=5e-3)
    assert low < mean < high


def test_the_car_parts_fit_is_that_of_two_libraries():
    """Krivtsov & Case 1999; by lifelines 0.30.3 1.154427, 134 651.0, -128.97383; so by scipy."""
    working = [(time, 1) for time in CAR_WORKING]
    fit = fit_weibull(lives(CAR_FAILED, working))
    assert (fit.shape, fit.scale) == pytest.approx((1.154427, 134_651.0), rel=1e-5)
    assert fit.log_likelihood == pytest.approx(-128.97383, abs=1e-4)
    assert (fit.shape, fit.scale) == pytest.approx(scipys_fit(CAR_FAILED, working), rel=1e-4)


def test_the_bearing_cage_and_ball_fits_agree_with_a_second_library():
    """The same data by scipy's censored maximum likelihood."""
    cage = fit_weibull(lives(CAGE_FAILED, CAGE_WORKING))
    assert (cage.shape, cage.scale) == pytest.approx(
        scipys_fit(CAGE_FAILED, CAGE_WORKING), rel=1e-3
    )
    assert cage.life(0.1) == pytest.approx(3903.13, rel=1e-4)  # surpyval 0.25


def test_electronics_that_never_fail_again_are_not_extrapolated():
    """99.76 % censored: two libraries fit shape .154 and scale 6e21 h; here it is refused."""
    assert sum(number for _, number in PARTS_WORKING) == 4072
    with pytest.raises(ValueError, match="no scale"):
        fit_weibull(lives(PARTS_FAILED, PARTS_WORKING))


def test_medians_of_survival_are_the_published_ones():
    """Remission: 23 weeks and 8 (Freireich et al. 1963); NCCTG lung study: 310 days, 165 of 228."""
    assert kaplan_meier(lives(MP6_FAILED, MP6_WORKING)).median == 23
    assert kaplan_meier(lives(PLACEBO, [])).median == 8
    with LUNG.open(newline="") as file:
        rows = [(float(row["hours"]), row["failed"] == "1") for row in csv.DictReader(file)]
    failed = [time for time, bad in rows if bad]
    assert (len(rows), len(failed)) == (228, 165)
    assert kaplan_meier(lives(failed, [time for time, bad in rows if not bad])).median == 310


def test_a_median_that_is_not_reached_is_none():
    """One of four failed: half of them never did."""
    assert kaplan_meier(lives([3.0], [5.0, 5.0, 5.0])).median is None


def test_log_rank_of_the_remission_arms_is_the_textbooks():
    """Freireich et al. 1963: chi-square 16.7929, p 4.169e-5."""
    statistic, chance = log_rank(lives(MP6_FAILED, MP6_WORKING), lives(PLACEBO, []))
    assert statistic == pytest.approx(16.7929, abs=5e-5)
    assert chance == pytest.approx(4.169e-5, rel=2e-4)


COSTS = Costs(per_hour=0.07, failed_here=3, came_back=500, warranty_h=700)


def test_the_worked_burn_in_example_comes_out_in_hours():
    """A published example (shape .8, scale 5000): optimum about 47 h, 91.783 against 93.671."""
    life = Weibull(0.8, 5000)
    assert cheapest_length_h(life, COSTS) == pytest.approx(46.948, abs=0.05)
    assert cost(life, 46.948, COSTS) == pytest.approx(91.783, abs=1e-3)
    assert cost(life, 0, COSTS) == pytest.approx(93.671, abs=1e-3)


def test_the_same_example_with_days_taken_for_days_is_not_worth_soaking():
    """Scale and warranty printed as days: converted to hours, the cost rises from the start."""
    life = Weibull(0.8, 5000 * 24)
    days = Costs(per_hour=0.07, failed_here=3, came_back=500, warranty_h=700 * 24)
    assert cheapest_length_h(life, days) == 0.0


def test_where_the_hazard_does_not_fall_soaking_only_costs():
    """With a shape of one or more nothing early can be soaked out."""
    assert cheapest_length_h(Weibull(1.0, 5000), COSTS) == 0.0


def test_data_without_a_scale_are_refused():
    """Ten early failures among thousands that never fail: no life beyond them is told."""
    early = [1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 15.0, 40.0, 100.0, 300.0]
    with pytest.raises(ValueError, match="no scale"):
        fit_weibull(lives(early, [(50_000.0, 4072)]))


@pytest.mark.parametrize(
    ("failed", "working", "says"),
    [([], [1.0], "nothing failed"), ([1.0, -2.0], [], "positive"), ([1.0, 2.0], [], "too few")],
)
def test_data_that_say_nothing_are_refused(failed, working, says):
    """No failure, an impossible time, or too few failures: a sentence, never a number."""
    with pytest.raises(ValueError, match=says):
        fit_weibull(lives(failed, [(time, 1) for time in working]))


def test_the_left_truncated_fit_is_that_of_another_library():
    """Woolson's patients from their age at admission: lifelines 0.30.3 fits 8.406472, 68.689963."""
    fit = fit_weibull(PSYCH)
    assert (fit.shape, fit.scale) == pytest.approx((8.406472, 68.689963), rel=1e-5)
    assert fit.log_likelihood == pytest.approx(-57.416456, abs=1e-5)
    variance = np.array(fit.spread) * np.outer((fit.scale, fit.shape), (fit.scale, fit.shape))
    assert variance == pytest.approx(np.array([[4.83486, -0.498975], [-0.498975, 3.783638]]), 1e-4)


def test_a_left_truncated_exponential_is_failures_over_hours_watched():
    """By the closed form the rate is failures / sum of (end - entry): the Weibull at shape 1."""
    draw = np.random.default_rng(3)
    ages = 8.0 + 1000.0 * draw.exponential(size=4000)
    found = fit_weibull([Life(age, True, 8.0) for age in ages])
    assert found.shape == pytest.approx(1.0, abs=0.05)
    assert found.scale == pytest.approx((ages - 8.0).mean(), rel=0.05)


def test_survival_and_its_errors_under_left_truncation_are_those_of_a_second_library():
    """Kaplan-Meier and Greenwood of Woolson's patients: statsmodels says the same, line by line."""
    found = kaplan_meier(PSYCH)
    ends, died, entries = zip(*((one.hours, one.failed, one.entry_h) for one in PSYCH), strict=True)
    theirs = SurvfuncRight(np.array(ends), np.array(died, int), entry=np.array(entries))
    assert found.times == pytest.approx(theirs.surv_times)
    assert found.shares == pytest.approx(theirs.surv_prob)
    assert found.errors[:-1] == pytest.approx(theirs.surv_prob_se[:-1])
    assert (found.errors[-1], found.from_h) == (None, 19)


def test_greenwoods_errors_of_the_remission_data_are_the_textbooks():
    """6-MP arm: .0764 at 6 and .0869 at 7 weeks, in many textbooks (from memory)."""
    found = kaplan_meier(lives(MP6_FAILED, MP6_WORKING))
    assert found.errors[:2] == pytest.approx((0.0764, 0.0869), abs=5e-5)


def test_a_unit_is_not_at_risk_at_the_very_age_of_its_entry():
    """By hand: at 8 h one of two fails while a third only enters: a half still works."""
    found = kaplan_meier([Life(8, True), Life(20, False), Life(12, True, 8)])
    assert found.shares == pytest.approx((0.5, 0.25))


def test_the_curves_bounds_are_wider_the_fewer_are_watched():
    """Two-sided 90 % bounds enclose the share, and those of ten times the units lie within."""
    few, many = (kaplan_meier([Life(t, True, units=n) for t in range(1, 11)]) for n in (1, 10))
    for low, share, high in zip(few.bound_low, few.shares, few.bound_high, strict=True):
        assert 0 <= low <= share <= high <= 1
    assert few.bound_low[4] < many.bound_low[4] < many.bound_high[4] < few.bound_high[4]


def test_a_curve_that_falls_to_nothing_before_the_data_end_is_refused():
    """The only unit watched so early failed: a share of 0 for all later ones would be nonsense."""
    with pytest.raises(ValueError, match="from so early an age"):
        kaplan_meier([Life(3, True, 1), Life(20, False, 8), Life(30, True, 8)])


def test_log_rank_under_left_truncation_is_that_of_a_second_library():
    """Woolson's patients, those admitted before 32 against the others: statsmodels agrees."""
    young, old = ([one for one in PSYCH if (one.entry_h < 32) is early] for early in (True, False))
    ends, died, entries = zip(
        *((one.hours, one.failed, one.entry_h) for one in [*young, *old]), strict=True
    )
    group = [0] * len(young) + [1] * len(old)
    theirs = survdiff(np.array(ends), np.array(died, int), group, entry=np.array(entries))
    assert log_rank(young, old) == pytest.approx((theirs[0], theirs[1]), rel=1e-6)


def sold(number, shape=0.65, scale=5000.0, soak_h=8.0, seed=1):
    """Return lives of units that passed a soak, watched for at most 3000 h after it."""
    ages = scale * np.random.default_rng(seed).weibull(shape, number)
    ages = ages[ages > soak_h]
    ends = soak_h + np.random.default_rng(seed + 1).uniform(200, 3000, len(ages))
    return [
        Life(float(min(age, end)), bool(age <= end), soak_h)
        for age, end in zip(ages, ends, strict=True)
    ]


def test_sold_units_show_their_true_shape_only_with_the_age_at_entry():
    """Shape .65 by construction: without the soak's hours it comes out far too high."""
    watched = sold(3000, soak_h=100.0)
    blind = [Life(one.hours, one.failed) for one in watched]
    assert fit_weibull(watched).shape == pytest.approx(0.65, abs=0.05)
    assert fit_weibull(blind).shape > 0.75


def test_bounds_of_the_fit_are_the_librarys():
    """Shape, scale and survival: 90 % by surpyval, as near as 15 failures let two methods be."""
    import surpyval

    found = fit_weibull(PSYCH)
    theirs = surpyval.Weibull.fit(
        [one.hours for one in PSYCH],
        c=[int(not one.failed) for one in PSYCH],
        tl=[one.entry_h for one in PSYCH],
    )
    for bounds, of in (
        (theirs.param_cb("beta", alpha_ci=0.1), lambda life: life.shape),
        (theirs.param_cb("alpha", alpha_ci=0.1), lambda life: life.scale),
        (theirs.cb([60.0], on="sf", alpha_ci=0.1)[0], lambda life: life.survival(60.0)),
    ):
        assert found.bounds(of) == pytest.approx(tuple(bounds), rel=0.06)


def test_the_chance_within_a_window_is_the_counted_one():
    """Of 8 that worked at 10 h all were watched to 20 h and 2 failed: a quarter, and by a fit."""
    watched = [Life(5, True), *lives([12, 18], [(30, 6)])]
    found = fails_within(watched, 10, 10)
    assert (found.share, found.failed) == (pytest.approx(0.25), 2)
    assert found.bound_low < 0.25 < found.bound_high
    life = Weibull(0.65, 5000.0)
    frozen = weibull_min(0.65, scale=5000.0)
    wanted = (frozen.cdf(250) - frozen.cdf(10)) / frozen.sf(10)
    assert life.fails_within(10, 240) == pytest.approx(wanted)


def test_a_window_without_a_failure_has_a_bound_all_the_same():
    """None of 22 in the window: Clopper-Pearson 90 %, both sides though none failed: 0 to .127."""
    found = fails_within([Life(5, True), Life(50, False, 4, units=22)], 10, 20)
    assert (found.share, found.bound_low, found.failed) == (0, 0, 0)
    assert found.bound_high == pytest.approx(beta.ppf(0.95, 1, 22))


@pytest.mark.parametrize(
    ("age", "window", "says"),
    [(4, 5, "from the age of 4 h"), (10, 2000, "to the age of 2010 h"), (10, 0, "above 0")],
)
def test_a_window_that_nobody_watched_is_refused(age, window, says):
    """Before the first entry, beyond the last end, or of no length: a sentence."""
    with pytest.raises(ValueError, match=says):
        fails_within([Life(20, True, 8), Life(90, False, 8)], age, window)


def test_an_advised_length_has_bounds_and_needs_twenty_failures():
    """The bounds hold the estimate; of nineteen failures no length is advised at all."""
    fit = fit_weibull(sold(400))
    low, high = length_bounds_h(fit, COSTS)
    assert fit.failures >= 20
    assert low < cheapest_length_h(fit, COSTS) < high
    few = Weibull(0.65, 5000.0, spread=fit.spread, failures=19)
    with pytest.raises(ValueError, match="19 failures are too few"):
        length_bounds_h(few, COSTS)


def test_without_the_library_one_sentence_says_what_to_install(monkeypatch):
    """The extra, its name and how to get it; nothing else of the program needs it."""
    monkeypatch.setitem(sys.modules, "surpyval", None)
    with pytest.raises(UsageError, match=r"soak\[lives\]"):
        kaplan_meier(PSYCH)
