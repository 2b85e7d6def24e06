"""Screening-strength formulas: the figures they are quoted for."""

import pytest

from soak.statistics.screening import strength_of_cycles, strength_of_steady_heat


def test_steady_heat_finds_the_quoted_shares():
    """RADC-TR-82-87, from memory, recomputed: 30 K for 8 h .10, for 24 h .27."""
    assert strength_of_steady_heat(30, 8) == pytest.approx(0.10, abs=5e-3)
    assert strength_of_steady_heat(30, 24) == pytest.approx(0.27, abs=5e-3)


def test_eight_cycles_find_the_quoted_shares():
    """RADC-TR-82-87, from memory, recomputed: 30 K, .21 at 1, .43 at 3, .60 at 5 K/min."""
    found = [strength_of_cycles(30, rate, 8) for rate in (1, 3, 5)]
    assert found == pytest.approx([0.21, 0.43, 0.60], abs=6e-3)


@pytest.mark.parametrize("figures", [(-1, 8), (30, -1), (float("nan"), 8)])
def test_impossible_heat_raises(figures):
    """A negative rise or time is refused."""
    with pytest.raises(ValueError, match="impossible"):
        strength_of_steady_heat(*figures)
