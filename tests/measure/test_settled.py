"""How far short of the end each criterion stops, against Newton's law."""

import pytest

from soak.measure.settled import CRITERIA, short_of_end_k


@pytest.mark.parametrize(
    ("name", "tau_s", "short_k"),
    [
        ("3 K in 30 min", 600.0, 0.157),
        ("1 K in 5 min", 600.0, 1.541),
        ("2 K in 1 h", 600.0, 0.005),
        ("1 K in 5 min", 3600.0, 11.51),
        ("3 K in 30 min", 3600.0, 4.62),
    ],
)
def test_a_criterion_stops_short_of_the_end_by_newtons_law(name, tau_s, short_k):
    """Worked by hand, k / (exp(w / tau) - 1): 3 / (e^3 - 1), 1 / (e^0.5 - 1), 2 / (e^6 - 1) ..."""
    criterion = next(one for one in CRITERIA if one.name == name)
    found = short_of_end_k(criterion.within_k, criterion.window_s, tau_s)
    assert found == pytest.approx(short_k, rel=5e-3, abs=5e-4)


def test_nothing_is_short_of_an_end_without_a_time_constant():
    """A time constant of 0 is a mistake, not a fast body."""
    with pytest.raises(ValueError, match="more than 0"):
        short_of_end_k(3.0, 1800.0, 0.0)
