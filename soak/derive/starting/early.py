"""Early half against late half of the time watched: a rate over all of it would hide both."""

from collections.abc import Sequence

from soak.derive.spans import Span, common, total_s


def early_of(watched: Sequence[Sequence[Span]], events: Sequence[Sequence[float]]) -> int:
    """Count the events in the first half of the time watched, over several soaks in order.

    Parameters
    ----------
    watched : sequence of sequence of (float, float)
        When each soak was watched, s of its own soak time.
    events : sequence of sequence of float
        When something happened in each soak, s of its own soak time.
    """
    before_s = 0.0
    early = 0
    half_s = sum(total_s(spans) for spans in watched) / 2
    for spans, times in zip(watched, events, strict=True):
        for t_s in times:
            # A loss begins where watching of a good picture ends: time up to it is what counts.
            early += before_s + total_s(common(spans, [(float("-inf"), t_s)])) <= half_s
        before_s += total_s(spans)
    return early
