"""Two soaks side by side: what differs is said with its test, what does not is not."""

from made_up_soak import HOT_S, STARTS_S, clean_night

from soak.judge.explain.comparison import compare


def lines(one, other) -> dict:
    return {line.what: line for line in compare(one, other)}


def dropping(count: int):
    soak = clean_night("S2")
    for number in range(count):
        at_s = STARTS_S + 600 + number * (HOT_S - 1200) / max(count, 1)
        soak.spell("capture", at_s, at_s + 1.0, "no signal")
    return soak


def test_two_clean_nights_differ_in_nothing():
    """The same evidence twice: every test says no difference, and no fault line appears."""
    found = lines(clean_night("S1"), clean_night("S2"))
    assert not any(line.differs for line in found.values())
    assert "dropout" not in found
    assert found["starts"].one == found["starts"].other == "0 of 20 failed"


def test_many_dropouts_against_none_differ_and_one_against_none_does_not():
    """12 against 0 in equal times is more than chance; 1 against 0 is not (a fair coin's toss)."""
    assert lines(clean_night(), dropping(12))["dropout"].differs is True
    assert lines(clean_night(), dropping(1))["dropout"].differs is False


def test_five_against_none_is_the_published_worked_value():
    """0 and 5 events in equal times: two-sided 0.0625 by the exact conditional test, 2/32."""
    method = lines(clean_night(), dropping(5))["dropout"].method
    assert "p = 0.06" in method
