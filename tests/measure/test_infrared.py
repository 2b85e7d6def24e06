"""Infrared readings of grey bodies, against worked examples."""

import pytest

from soak.measure.infrared import EMISSIVITIES, error_grows_by, true_degc

WORKED = [(80.0, 0.10, 32.3), (60.0, 0.30, 37.4), (60.0, 0.85, 56.8), (60.0, 0.05, 27.2)]
"""True degC, emissivity, degC shown by a thermometer set to 0.95 in a room of 25 degC: worked by
hand from the Stefan-Boltzmann law, `0.95 S^4 + 0.05 R^4 = e T^4 + (1 - e) R^4` in kelvin."""


@pytest.mark.parametrize(("true", "emissivity", "shown"), WORKED)
def test_the_truth_is_found_again_as_far_as_the_reading_goes(true, emissivity, shown):
    """A reading to 0.05 K gives the truth to 0.05 K times the growth of errors."""
    found = true_degc(shown, emissivity, room_degc=25.0)
    growth = error_grows_by(shown, emissivity, room_degc=25.0)
    assert found == pytest.approx(true, abs=0.05 * growth * 1.1)


def test_an_error_grows_as_the_slope_says():
    """One kelvin more on polished metal of 80 degC moves the truth by the stated growth (slope)."""
    low, high = (true_degc(shown, 0.10, 25.0) for shown in (32.25, 32.35))
    assert (high - low) / 0.1 == pytest.approx(error_grows_by(32.3, 0.10, 25.0), rel=0.01)


def test_a_surface_as_the_thermometer_is_set_reads_true():
    """With emissivity and setting alike nothing is to be corrected (Kirchhoff's law)."""
    assert true_degc(47.0, 0.95, 25.0, 0.95) == pytest.approx(47.0)


@pytest.mark.parametrize(
    ("shown", "emissivity", "words"),
    [(20.0, 0.0, "impossible"), (20.0, 1.2, "impossible"), (-40.0, 0.05, "look at emissivity")],
)
def test_what_cannot_be_is_refused(shown, emissivity, words):
    """An emissivity lies above 0 up to 1, and no mirror is colder than what it mirrors."""
    with pytest.raises(ValueError, match=words):
        true_degc(shown, emissivity, 25.0)


def test_every_listed_emissivity_is_possible():
    """Each range lies within 0 to 1 and begins with its lower end (Kirchhoff's law)."""
    assert all(0 < low <= high <= 1 for low, high in EMISSIVITIES.values())
