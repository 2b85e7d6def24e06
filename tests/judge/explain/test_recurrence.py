"""Failures a unit, repeated ones counted: a published data set, a second library, and by hand."""

import pytest

from soak.judge.explain.recurrence import mean_cumulative

# Valve seats of 41 diesel engines: Nelson, Technometrics 37 (1995) 147-157; days of replacement,
# and day up to which each engine was followed (data also in the R package survival, valveSeat).
ENGINES = {
    251: ([], 761), 252: ([], 759), 327: ([98], 667), 328: ([326, 653, 653], 667),
    329: ([], 665), 330: ([84], 667), 331: ([87], 663), 389: ([646], 653), 390: ([92], 653),
    391: ([], 651), 392: ([258, 328, 377, 621], 650), 393: ([61, 539], 648),
    394: ([254, 276, 298, 640], 644), 395: ([76, 538], 642), 396: ([635], 641),
    397: ([349, 404, 561], 649), 398: ([], 631), 399: ([], 596), 400: ([120, 479], 614),
    401: ([323, 449], 582), 402: ([139, 139], 589), 403: ([], 593), 404: ([573], 589),
    405: ([165, 408, 604], 606), 406: ([249], 594), 407: ([344, 497], 613),
    408: ([265, 586], 595), 409: ([166, 206, 348], 389), 410: ([], 601),
    411: ([410, 581], 601), 412: ([], 611), 413: ([], 608), 414: ([], 587), 415: ([367], 603),
    416: ([202, 563, 570], 585), 417: ([], 587), 418: ([], 578), 419: ([], 578),
    420: ([], 586), 421: ([], 585), 422: ([], 582),
}  # fmt: skip
HISTORIES = {str(engine): history for engine, history in ENGINES.items()}


def test_valve_seats_wear_as_a_second_library_says():
    """Package reliability 0.9.0, MCF_nonparametric: .02439 at 61, .21951 at 139, 1.54269 at 653."""
    assert sum(len(failures) for failures, _ in ENGINES.values()) == 48
    found = mean_cumulative(HISTORIES)
    at = dict(zip(found.times, found.means, strict=True))
    wanted = {61: 0.0243902, 139: 0.2195122, 621: 1.1185422, 640: 1.2435422, 653: 1.5426875}
    assert {time: at[time] for time in wanted} == pytest.approx(wanted, abs=5e-8)


def test_while_all_are_followed_it_is_the_plain_mean():
    """Until day 389 no engine had left: failures so far divided by 41."""
    found = mean_cumulative(HISTORIES)
    for time, mean in zip(found.times, found.means, strict=True):
        if time <= 389:
            so_far = sum(age <= time for failures, _ in ENGINES.values() for age in failures)
            assert mean == pytest.approx(so_far / 41)


def test_a_unit_that_left_no_longer_counts():
    """By hand: one of two at 5, then of the one still followed two more: 0.5, 1.5, 2.5."""
    found = mean_cumulative({"A": ([5.0], 6.0), "B": ([7.0, 9.0], 10.0)})
    assert found.times == (5.0, 7.0, 9.0)
    assert found.means == pytest.approx((0.5, 1.5, 2.5))


@pytest.mark.parametrize(
    ("histories", "says"),
    [
        ({"A": ([], 5.0)}, "nothing failed"),
        ({"A": ([6.0], 5.0)}, "after the age"),
        ({"A": ([-1.0], 5.0)}, "positive"),
    ],
)
def test_histories_that_cannot_be_raise(histories, says):
    """No failure at all, one after the end, or a negative age: a sentence."""
    with pytest.raises(ValueError, match=says):
        mean_cumulative(histories)
