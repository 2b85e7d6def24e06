"""No number decides anything without saying where it comes from."""

from numbers_page import NOTHING, numbers

ALREADY = 300


def test_every_number_that_decides_says_where_it_comes_from():
    """A published source, common practice, our own choice or memory; else it decides nothing."""
    found = list(numbers())
    assert len(found) > ALREADY
    assert [f"{one.module}: {one.name}" for one in found if not one.has_source] == []


def test_a_number_says_more_than_where_it_comes_from():
    """That it is our own choice alone is no reason and no meaning."""
    bare = [one for one in numbers() if NOTHING not in one.means and len(one.means.split()) < 7]
    assert [f"{one.module}: {one.name}: {one.means}" for one in bare] == []
