"""Tracks and spans against plain lists."""

from hypothesis import given
from hypothesis import strategies as st

from soak.sim.track import Spans, Track, laid_over

SPAN = st.tuples(st.integers(0, 100), st.integers(1, 20)).map(lambda s: (float(s[0]), s[0] + s[1]))
CHANGES = st.lists(st.tuples(st.integers(0, 100), st.sampled_from("abc")), max_size=15).map(sorted)


@given(st.lists(SPAN, max_size=15), st.integers(0, 130), st.integers(0, 130))
def test_spans_hold_what_any_single_span_holds(
    spans: list[tuple[float, float]], t_s: int, cut_s: int
) -> None:
    """Merged and cut spans hold a time just when one of the given spans does."""
    merged = Spans()
    merged.add(spans[:7])
    merged.add(spans[7:])
    assert merged.holds(t_s) == any(a <= t_s < b for a, b in spans)
    assert merged.touch(t_s, t_s + 3) == any(a <= t_s + 3 and t_s < b for a, b in spans)
    merged.cut(cut_s)
    assert merged.holds(t_s) == any(a <= t_s < min(b, cut_s) for a, b in spans)


@given(CHANGES, CHANGES, st.integers(0, 100), st.integers(-1, 130))
def test_replanning_forgets_only_what_lies_ahead(
    first: list[tuple[int, str]], second: list[tuple[int, str]], from_s: int, t_s: int
) -> None:
    """After a new plan the past is the old one and the future the new one."""
    track: Track[str] = Track("-")
    track.plan(0, first)
    before = track.at(from_s - 0.5)
    later = [change for change in second if change[0] >= from_s]
    track.plan(from_s, later)
    held = [value for at_s, value in first if at_s <= t_s and at_s < from_s]
    held += [value for at_s, value in later if at_s <= t_s]
    assert track.at(t_s) == (held[-1] if held else "-")
    assert track.at(from_s - 0.5) == before


@given(CHANGES, st.integers(-1, 130))
def test_the_next_change_is_a_change(changes: list[tuple[int, str]], t_s: int) -> None:
    """Between now and the next change nothing changes, and there something does."""
    track: Track[str] = Track("-")
    track.plan(0, changes)
    next_s = track.next_change_s(t_s)
    until_s = min(next_s, 140)
    assert all(track.at(s) == track.at(t_s) for s in range(t_s, int(until_s)))
    assert list(track.changes_s(t_s, 200))[:1] == ([next_s] if next_s < 200 else [])


@given(CHANGES, st.lists(SPAN, max_size=8), st.integers(0, 130))
def test_a_laid_over_span_covers_just_its_time(
    changes: list[tuple[int, str]], spans: list[tuple[float, float]], t_s: int
) -> None:
    """Within the spans the value is changed, outside it is as planned."""
    over = Spans()
    over.add(spans)
    plan = [(0.0, "-"), *((float(at_s), value) for at_s, value in changes)]
    plain: Track[str] = Track("-")
    plain.plan(0.0, plan)
    covered: Track[str] = Track("-")
    covered.plan(0.0, laid_over(plan, over, str.upper))
    expected = plain.at(t_s).upper() if over.holds(t_s) else plain.at(t_s)
    assert covered.at(t_s) == expected
