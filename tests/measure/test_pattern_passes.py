from hypothesis import given
from hypothesis import strategies as st

from soak.measure.stick.passes import Passes


@given(st.integers(1, 20), st.integers(0, 100))
def test_the_budget_is_never_exceeded(chunks, budget_chunks):
    """Writing passes as long as they fit writes at most the budget, and all passes that fit."""
    passes, written = Passes(4096, chunks, budget_chunks * 4096), 0
    while passes.fits:
        passes.begin()
        for chunk in range(chunks):
            passes.wrote(chunk)
            written += 1
    assert written == budget_chunks // chunks * chunks


@given(st.lists(st.integers(0, 5), min_size=1, max_size=12))
def test_only_the_two_newest_passes_are_taken_over(found):
    """A chunk two passes behind was missed by a whole pass, so its data is not believed."""
    passes = Passes(4096, len(found), 0)
    passes.adopt(found)
    newest = max(found)
    wanted = [(n, one) for n, one in enumerate(found) if one and one >= newest - 1]
    assert passes.to_read() == wanted
    assert passes.begin() == newest + 1


def test_a_lost_chunk_is_not_read_back():
    """Nobody knows what must come back from a chunk that was half written."""
    passes = Passes(4096, 2, 1 << 20)
    passes.begin()
    passes.wrote(0)
    passes.wrote(1)
    passes.lost(0)
    assert passes.to_read() == [(1, 1)]
