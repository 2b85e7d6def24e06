"""The swap test's verdict: by an exact test with its chance, never beyond what was exchanged."""

import pytest
from scipy.stats import binom, fisher_exact

from soak.judge.explain.swapping import PARTS, Swapped, decide, luck_of, too_few

CABLE, PORT, CARD = PARTS["picture"]


def said(*losses: tuple[str, int]) -> str:
    return str(decide([Swapped(part, number, 45.0) for part, number in losses]))


def test_a_look_without_a_loss_decides_nothing():
    """What was never lost cannot go with anything."""
    assert "nothing can be decided" in said(("", 0))
    assert said(("", 4)).startswith("Nothing was swapped, so nothing is decided.")


@pytest.mark.parametrize(("before", "luck"), [(1, "50 %"), (2, "25 %"), (4, "6.2 %")])
def test_a_cure_that_luck_explains_is_no_verdict(before, luck):
    """One loss before and none after is a coin's toss, (1/2)^1, not the bench."""
    told = said(("", before), (CABLE, 0), (PORT, before), (CARD, before))
    assert f"luck in {luck} of cases" in told
    assert "nothing is decided" in told
    assert "it is the" not in told


def test_losses_that_go_with_one_part_are_the_benchs():
    """Eight before, none with another cable, as many with the rest: (1/2)^8 = 0.4 % by luck."""
    told = said(("", 8), (CABLE, 0), (PORT, 9), (CARD, 7))
    assert "went with the cable (8 before, none with another; luck in 0.4 % of cases)" in told
    assert told.endswith("it is the bench, not the unit.")


def test_losses_that_stay_whatever_is_exchanged_are_the_units():
    """Every part was tried, and losses came each time."""
    told = said(("", 4), (CABLE, 3), (PORT, 5), (CARD, 2))
    assert told.endswith("it is the unit.")


def test_what_was_not_exchanged_is_said_and_leaves_it_open():
    """Another cable alone cures nothing: port and card may still be it."""
    told = said(("", 8), (CABLE, 9))
    assert "it is the unit" not in told
    assert "is open" in told
    assert told.endswith("Not exchanged: port of the bench and capture card.")


def test_twenty_losses_that_become_one_went_with_the_part():
    """The bench makes most of them; the one that stayed is not explained away either."""
    told = said(("", 20), (CABLE, 1), (PORT, 19), (CARD, 22))
    assert "Most losses went with the cable (20 before, 1 with another" in told
    assert "luck in less than 0.1 % of cases" in told
    assert "it is the unit" not in told


@pytest.mark.parametrize("after", [0, 10])
def test_fewer_whatever_is_exchanged_is_a_fault_that_comes_and_goes(after):
    """Nobody touched what cured it: moving the plugs may have, or it rests."""
    assert "comes and goes" in said(("", 24), (CABLE, after), (PORT, after), (CARD, after))


def test_a_cure_without_a_look_that_showed_losses_again_only_points():
    """Exchanging the cable moved its plug at the unit too."""
    told = said(("", 8), (CABLE, 0))
    assert "points at the bench" in told
    assert "it is the bench" not in told
    assert "Not exchanged: port of the bench and capture card." in told


def test_the_chances_are_scipys():
    """Conditional binomial of two Poisson counts; Fisher's exact test of two shares of starts."""
    rate = luck_of(Swapped("", 12, 45.0), Swapped("cable", 3, 90.0))
    assert rate == pytest.approx(binom.cdf(3, 15, 90 / 135))
    starts = luck_of(Swapped("", 6, 0.0, 10), Swapped("cable", 1, 0.0, 10))
    assert starts == pytest.approx(fisher_exact([[1, 9], [6, 4]], alternative="less").pvalue)


def test_too_few_losses_to_decide_are_known_before_anything_is_exchanged():
    """Three looks share 5 %: (1/2)^5 = 3.1 % is more than a third of that, (1/2)^6 is less."""
    assert too_few(Swapped("", 5, 45.0), 3)
    assert not too_few(Swapped("", 6, 45.0), 3)


def test_failed_starts_are_compared_as_shares():
    """Eight of ten fail, none with another supply: the bench; in all other looks they stay."""
    numbers = (("", 8), ("power lead", 7), ("power supply", 0), ("capture card", 9))
    looks = [Swapped(part, failed, 0.0, 10) for part, failed in numbers]
    told = decide(looks, PARTS["starts"])
    assert "went with the power supply" in told
    assert told.endswith("Not exchanged: cable of the picture and channel of the switch.")
