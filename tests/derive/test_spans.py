"""The arithmetic of spans, held to a count of single seconds."""

from hypothesis import given
from hypothesis import strategies as st

from soak.derive import spans

_SPANS = st.lists(
    st.tuples(st.integers(0, 60), st.integers(1, 20)).map(lambda p: (float(p[0]), float(sum(p)))),
    max_size=6,
)


def seconds(some):
    """Return the whole seconds that the spans cover."""
    return {s + 0.5 for s in range(100) if any(a <= s + 0.5 <= b for a, b in some)}


@given(_SPANS, _SPANS)
def test_common_and_minus_agree_with_counting_seconds(some, others):
    """Intersection, difference and length are those of the sets of seconds."""
    assert seconds(spans.common(some, others)) == seconds(some) & seconds(others)
    assert seconds(spans.minus(some, others)) == seconds(some) - seconds(others)
    assert spans.total_s(some) == len(seconds(some))


def test_touching_counts_the_ends():
    """A span that ends where another begins touches it, also one of no length."""
    assert spans.touching(1.0, 2.0, [(2.0, 2.0)]) == (2.0, 2.0)
    assert spans.touching(1.0, 2.0, [(2.1, 3.0)]) is None


def test_spans_join_where_they_touch():
    """Overlapping and touching spans become one, others stay apart."""
    some = [(5.0, 6.0), (0.0, 2.0), (1.0, 3.0), (3.0, 4.0)]
    assert spans.merged(some) == [(0.0, 4.0), (5.0, 6.0)]
