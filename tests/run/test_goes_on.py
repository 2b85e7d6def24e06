"""A stretch in which nothing happens is still on record: a crash must not lose the hours of it."""

import sys
from itertools import pairwise
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import FIXTURE, Faults, run_small_soak

QUIET = {
    "name": "quiet",
    "not_after": "1 h",
    "stretch": [{"name": "run", "lasts": "10 min", "picture": {}}],
}


def test_a_quiet_stretch_is_on_record_every_ten_seconds():
    """With a steady picture and no probe the longest time without a record is ten seconds."""
    ran = run_small_soak(Faults(), QUIET, fixture=without_probe())
    times = [mark.t_s for mark in ran.marks]
    assert max(later - t_s for t_s, later in pairwise(times)) <= 12.5
    (ends,) = [mark for mark in ran.marks if mark.what == "stretch ends"]
    assert ends.detail["observed_s"] == pytest.approx(600, abs=0.1)


def test_a_talking_stretch_needs_no_word_more():
    """Where a probe speaks every five seconds nothing is added."""
    ran = run_small_soak(Faults())
    assert "goes on" not in [mark.what for mark in ran.marks]


def without_probe():
    return {key: value for key, value in FIXTURE.items() if key != "probe"}
