"""Any one instrument, and a script that comes with the program: something is shown, or it is said.

Simulated units of the program's own invented model; each soak runs the same code as a real one.
"""

import tomllib

import pytest
from one_unit_bench import bench_with_k1

from soak.desk.bench_folder import BenchFolder
from soak.desk.soaking import run
from soak.journal import open_evidence
from soak.judge.grade import judge, shows_nothing
from soak.sim.samples import fixture_text

SCRIPTS = ("quick", "evening")
ONE = {
    "thermometer": ("probe.outside",),
    "picture": ("capture",),
    "stick": ("stick",),
    "network socket": ("network",),
    "switch": ("switch",),
}
NOTHING = "This soak will show nothing: no check of its script can use what is wired."
SHOWS_NOTHING = {("quick", "switch"), ("evening", "switch")}
"""A switch alone sees nothing."""


def wired_with(tables) -> str:
    """Return the good unit's fixture with these of its instruments alone."""
    head, *parts = fixture_text("good").split("\n[")
    kept = [f"[{part}" for part in parts if part.partition("]")[0] in tables]
    text = "\n".join([head, *kept])
    tomllib.loads(text)
    return text


@pytest.mark.parametrize("instrument", ONE)
@pytest.mark.parametrize("script", SCRIPTS)
def test_something_is_shown_or_it_is_said_before(tmp_path, capsys, script, instrument):
    """Whoever has one instrument gets something for the time, or is told before it is spent."""
    bench = bench_with_k1(tmp_path, wired_with(ONE[instrument]))
    run.run(bench, script, ["K1@left"], seed=3, may_sleep=True)
    before, _, soaked = capsys.readouterr().err.partition("stretch '")
    assert soaked
    findings = judge([open_evidence(BenchFolder(bench).find_soak("last"))]).findings
    met = [finding for finding in findings if finding.verdict.value == "met"]
    assert (NOTHING in before) == shows_nothing(met) == ((script, instrument) in SHOWS_NOTHING)
