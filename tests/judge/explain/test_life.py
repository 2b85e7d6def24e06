"""Life data: published fits and worked examples, and refusal where the data hold nothing."""

import csv
from pathlib import Path

import pytest

from soak.judge.explain.life import (
    Costs,
    Weibull,
    cheapest_length_h,
    cost,
    fit_weibull,
    kaplan_meier,
    log_rank,
)
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


def test_the_bearing_cage_fit_is_the_published_one():
    """Meeker & Escobar example 8.16: shape 2.035, B10 3903 h; reference fit 11792.18, -76.4369."""
    fit = fit_weibull(CAGE_FAILED, CAGE_WORKING)
    assert sum(number for _, number in CAGE_WORKING) == 1697
    assert fit.shape == pytest.approx(2.035319, rel=1e-4)
    assert fit.scale == pytest.approx(11792.178, rel=1e-4)
    assert fit.life(0.1) == pytest.approx(3903, abs=1)
    assert fit.log_likelihood == pytest.approx(-76.436896, abs=1e-4)


def test_the_ball_bearing_fit_is_the_published_one_and_the_librarys():
    """Lawless 1982: 2.10 and 81.88 (from memory); scipy's own fit agrees."""
    from scipy.stats import weibull_min

    fit = fit_weibull(BALLS, [])
    shape, _, scale = weibull_min.fit(BALLS, floc=0)
    assert (fit.shape, fit.scale) == pytest.approx((2.101846, 81.874527), rel=1e-4)
    assert (fit.shape, fit.scale) == pytest.approx((shape, scale), rel=1e-3)


def test_survival_of_the_remission_data_is_the_textbooks():
    """Kaplan-Meier of the 6-MP arm: S(6) .8571 ... S(23) .4482; of the placebo arm S(8) .3810."""
    treated = kaplan_meier(MP6_FAILED, MP6_WORKING)
    wanted = {6: 0.8571, 7: 0.8067, 10: 0.7529, 13: 0.6902, 16: 0.6275, 22: 0.5378, 23: 0.4482}
    assert {t: round(treated.at(t), 4) for t in wanted} == wanted
    placebo = kaplan_meier(PLACEBO, [])
    assert [round(placebo.at(t), 4) for t in (1, 8, 12)] == [0.9048, 0.3810, 0.1905]
    assert treated.at(1) == 1.0


def scipys_fit(failed, working):
    """Return shape and scale as scipy's censored maximum likelihood finds them."""
    from scipy.stats import CensoredData, weibull_min

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
    fit = fit_weibull(FANS_FAILED, FANS_WORKING)
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
    fit = fit_weibull(CAR_FAILED, working)
    assert (fit.shape, fit.scale) == pytest.approx((1.154427, 134_651.0), rel=1e-5)
    assert fit.log_likelihood == pytest.approx(-128.97383, abs=1e-4)
    assert (fit.shape, fit.scale) == pytest.approx(scipys_fit(CAR_FAILED, working), rel=1e-4)


def test_the_bearing_cage_and_ball_fits_agree_with_a_second_library():
    """The same data by scipy's censored maximum likelihood."""
    cage = fit_weibull(CAGE_FAILED, CAGE_WORKING)
    assert (cage.shape, cage.scale) == pytest.approx(
        scipys_fit(CAGE_FAILED, CAGE_WORKING), rel=1e-3
    )
    assert cage.life(0.1) == pytest.approx(3903.13, rel=1e-4)  # surpyval 0.25


def test_electronics_that_never_fail_again_are_not_extrapolated():
    """99.76 % censored: two libraries fit shape .154 and scale 6e21 h; here it is refused."""
    assert sum(number for _, number in PARTS_WORKING) == 4072
    with pytest.raises(ValueError, match="no scale"):
        fit_weibull(PARTS_FAILED, PARTS_WORKING)


def test_medians_of_survival_are_the_published_ones():
    """Remission: 23 weeks and 8 (Freireich et al. 1963); NCCTG lung study: 310 days, 165 of 228."""
    assert kaplan_meier(MP6_FAILED, MP6_WORKING).median == 23
    assert kaplan_meier(PLACEBO, []).median == 8
    with LUNG.open(newline="") as file:
        rows = [(float(row["hours"]), row["failed"] == "1") for row in csv.DictReader(file)]
    failed = [time for time, bad in rows if bad]
    assert (len(rows), len(failed)) == (228, 165)
    assert kaplan_meier(failed, [time for time, bad in rows if not bad]).median == 310


def test_a_median_that_is_not_reached_is_none():
    """One of four failed: half of them never did."""
    assert kaplan_meier([3.0], [5.0, 5.0, 5.0]).median is None


def test_log_rank_of_the_remission_arms_is_the_textbooks():
    """Freireich et al. 1963: chi-square 16.7929, p 4.169e-5."""
    statistic, chance = log_rank(MP6_FAILED, MP6_WORKING, PLACEBO, [])
    assert statistic == pytest.approx(16.7929, abs=5e-5)
    assert chance == pytest.approx(4.169e-5, rel=2e-4)


COSTS = Costs(per_hour=0.07, failed_here=3, came_back=500, warranty_h=700)


def test_the_worked_burn_in_example_comes_out_in_hours():
    """A published example (shape .8, scale 5000): optimum about 47 h, 91.783 against 93.671."""
    life = Weibull(0.8, 5000, 0.0)
    assert cheapest_length_h(life, COSTS) == pytest.approx(46.948, abs=0.05)
    assert cost(life, 46.948, COSTS) == pytest.approx(91.783, abs=1e-3)
    assert cost(life, 0, COSTS) == pytest.approx(93.671, abs=1e-3)


def test_the_same_example_with_days_taken_for_days_is_not_worth_soaking():
    """Scale and warranty printed as days: converted to hours, the cost rises from the start."""
    life = Weibull(0.8, 5000 * 24, 0.0)
    days = Costs(per_hour=0.07, failed_here=3, came_back=500, warranty_h=700 * 24)
    assert cheapest_length_h(life, days) == 0.0


def test_where_the_hazard_does_not_fall_soaking_only_costs():
    """With a shape of one or more nothing early can be soaked out."""
    assert cheapest_length_h(Weibull(1.0, 5000, 0.0), COSTS) == 0.0


def test_data_without_a_scale_are_refused():
    """Ten early failures among thousands that never fail: no life beyond them is told."""
    early = [1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 15.0, 40.0, 100.0, 300.0]
    with pytest.raises(ValueError, match="no scale"):
        fit_weibull(early, [(50_000.0, 4072)])


@pytest.mark.parametrize(
    ("failed", "working", "says"),
    [([], [1.0], "nothing failed"), ([1.0, -2.0], [], "positive"), ([1.0, 2.0], [], "too few")],
)
def test_data_that_say_nothing_are_refused(failed, working, says):
    """No failure, an impossible time, or too few failures: a sentence, never a number."""
    with pytest.raises(ValueError, match=says):
        fit_weibull(failed, [(time, 1) for time in working])
