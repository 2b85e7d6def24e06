"""Early half against late half of what was watched."""

from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.derive.starting.early import early_of
from soak.judge.judging import judge_requirement


def test_halves_are_of_the_time_watched_and_not_of_the_clock():
    """Watched for 2 h, blind for 6, watched for 2: the middle is at the end of the first two."""
    watched = [[(0.0, 7200.0), (28800.0, 36000.0)]]
    assert early_of(watched, [[7000.0, 29000.0, 35000.0]]) == 1


def test_two_soaks_are_two_halves():
    """Of two nights of like length the first is early, whatever its own clock said."""
    watched = [[(0.0, 100.0)], [(0.0, 100.0)]]
    assert early_of(watched, [[10.0, 90.0], [5.0]]) == 2


def test_nothing_watched_has_no_halves():
    """Nothing watched and nothing seen is nothing early."""
    assert early_of([[]], [[]]) == 0


def test_losses_when_hot_are_told_as_late():
    """Three losses in the last hour of four: none early, three late, and the sentence says so."""
    soak = clean_night()
    for at in range(3):
        begin_s = STARTS_S + HOT_S - 3000 + 600 * at
        soak.spell("capture", begin_s, begin_s + 3, "black")
    finding = judge_requirement(demand("no dropout", "capture"), [soak])
    assert (finding.detail["early"], finding.detail["late"]) == (0, 3)
    assert finding.aside == "Early half 0, late half 3."
