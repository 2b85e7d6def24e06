"""A host that sleeps in the night: off on waking, on record, never charged to the unit."""

from one_unit_bench import bench_with_k1

from soak.desk.bench_folder import BenchFolder
from soak.desk.soaking import run
from soak.errors import ExitCode
from soak.journal import open_evidence
from soak.sim.samples import fixture_text


def test_a_sleeping_host_ends_the_soak_off_and_incomplete(tmp_path):
    """Forty minutes nobody watched: on record, power off at once, not the unit's fault."""
    bench_with_k1(tmp_path, fixture_text("host_sleeps"))
    code = run.run(tmp_path, "overnight", ["K1@left.toml"], seed=3, may_sleep=False)
    evidence = open_evidence(BenchFolder(tmp_path).find_soak("last"))
    slept = evidence.marks("host slept")[0]
    off = next(m for m in evidence.marks("power") if m.t_s >= slept.t_s)
    assert code == ExitCode.INCOMPLETE
    assert slept.detail["for_s"] == 2400
    assert off.detail["on"] is False
    assert off.t_s - slept.t_s < 1
    assert evidence.seal.ended == "bench fault"
