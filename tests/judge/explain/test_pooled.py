"""A soak beside earlier ones: shown with its pull, and without any say in the grade."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_soak import HOT_S, STARTS_S, clean_night, demand, fail_start

from soak.derive.course import course_of
from soak.frozen.references import Counts, References
from soak.judge.explain.pooled import beside, counts_of, in_words
from soak.judge.grade import judge

CAPTURE = {"needs": frozenset({"capture"})}
DEMANDS = (
    demand("starts", confidence=0.95, params={"promised": 20, "start_limit_s": 60.0}, **CAPTURE),
    demand("no dropout", "capture", confidence=0.95, **CAPTURE),
    demand("failure free", "", 7200.0, **CAPTURE),
)
POOL = [
    Counts(soak_id=f"P{at}", starts=60, failed=failed, hours=5.0, faults=failed)
    for at, failed in enumerate((0, 0, 1, 0, 5, 0, 2, 0))
]


def test_a_clean_night_counts_its_starts_and_hours():
    """Twenty warm starts and four hot hours (with the on-times of the starts), nothing failed."""
    found = counts_of(course_of(clean_night()))
    assert (found.starts, found.failed, found.faults) == (20, 0, 0)
    assert HOT_S / 3600 <= found.hours <= (HOT_S + STARTS_S) / 3600


def test_faults_are_counted_where_they_happened():
    """A failed start and a lost picture are one of each."""
    soak = clean_night()
    fail_start(soak, 7)
    soak.spell("capture", STARTS_S + 3600, STARTS_S + 3603, "black")
    found = counts_of(course_of(soak))
    assert (found.failed, found.faults) == (1, 1)


def test_this_unit_is_pulled_to_what_is_usual_and_says_how_far():
    """No failure in 20 among units that fail 8 of 480: in between, with the weight in words."""
    starts, picture = beside(POOL, [course_of(clean_night())])
    assert starts.found.own == 0.0
    assert starts.found.own < starts.found.mean < starts.found.pooled
    assert 0 < starts.found.weight < 1
    words = in_words(starts)
    assert "0 of 20 failed" in words
    assert f"the others count {starts.found.weight:.0%}".replace("%", " %") in words
    assert "8 earlier units" in words
    assert "an hour" in in_words(picture)


def test_soaks_of_one_job_count_together():
    """Two nights of twenty starts are forty."""
    nights = [course_of(clean_night("S1")), course_of(clean_night("S2"))]
    assert beside(POOL, nights)[0].own == "0 of 40 failed"


@pytest.mark.parametrize("pool", [[], POOL[:4], [replace(one, failed=0, faults=0) for one in POOL]])
def test_too_small_a_pool_says_nothing(pool):
    """No unit, four units, or units that never fail: nothing stands beside."""
    assert beside(pool, [course_of(clean_night())]) == []


_ENTRY = st.tuples(st.integers(0, 60), st.floats(0.0, 500.0), st.integers(0, 40))


@settings(max_examples=40)
@given(st.lists(_ENTRY, max_size=12), st.sampled_from(["clean", "start", "picture", "blind"]))
def test_changing_the_pool_never_changes_the_grade(entries, what):
    """Whatever the others did, grade, findings and reasons of this unit stay the same."""
    soak = clean_night().demanding(*DEMANDS)
    if what == "start":
        fail_start(soak, 7)
    if what != "clean":
        state = "blind" if what == "blind" else "black"
        soak.spell("capture", STARTS_S + 3600, STARTS_S + 4800, state)
    pool = [
        Counts(soak_id="P", starts=60, failed=failed, hours=hours, faults=faults)
        for failed, hours, faults in entries
    ]
    with_pool, without = (
        judge([soak.with_header(references=References(pool=tuple(pool)))]),
        judge([soak]),
    )
    assert (with_pool.grade, with_pool.reason) == (without.grade, without.reason)
    assert with_pool.findings == without.findings
    assert all(0 <= one.found.weight <= 1 for one in beside(pool, [course_of(soak)]))
