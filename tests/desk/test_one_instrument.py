"""soak is useful with any one instrument, and claims no more than that one shows."""

from pathlib import Path

import pytest
from one_unit_bench import bench_with_k1

from soak.desk import run, units
from soak.desk.bench_folder import BenchFolder
from soak.desk.grading import grade_job
from soak.errors import ExitCode
from soak.rules.core.verdict import Verdict

PARTS = {
    "switch": '[switch]\ndriver = "simulated"\n',
    "capture": '[capture]\ndriver = "simulated"\nport = "video"\n',
    "stick": '[stick]\ndriver = "simulated"\nport = "usb1"\npath = "through"\n',
    "probe": '[probe.outside]\ndriver = "simulated"\nspot = "outside"\naccuracy = 1.0\n',
}


def soaked(bench: Path, *wired: str):
    """Soak a good unit for an evening with only these instruments; return code and judgement."""
    parts = "".join(PARTS[name] for name in wired)
    bench_with_k1(bench, f'name = "few"\nsimulated = "good"\n{parts}')
    code = run.run(bench, "evening", ["K1@left.toml"], seed=3, may_sleep=False)
    folder = BenchFolder(bench)
    graded = grade_job(folder, units.open_ledger(bench), folder.find_soak("last"))
    return code, graded.judgement


@pytest.mark.parametrize(
    ("wired", "checks"),
    [
        (("capture",), {"look", "picture"}),
        (("stick",), {"look", "transfer"}),
        (("probe",), {"look", "spots"}),
        (("switch", "capture"), {"look", "picture", "power_cycles"}),
    ],
)
def test_a_good_unit_is_ready_by_what_one_instrument_shows(tmp_path, wired, checks):
    """What is met comes from the wired instruments alone; the rest is not tested, not hidden."""
    code, judgement = soaked(tmp_path, *wired)
    met = {f.requirement.check for f in judgement.findings if f.verdict is Verdict.MET}
    others = {f.verdict for f in judgement.findings if f.requirement.check not in met}
    assert code == ExitCode.DONE
    assert met == checks
    assert others <= {Verdict.NOT_TESTED}


def test_a_switch_alone_shows_nothing_of_the_unit(tmp_path):
    """Answers of a hand and a relay are no test of a function: incomplete, never ready."""
    code, judgement = soaked(tmp_path, "switch")
    assert code == ExitCode.INCOMPLETE
    assert judgement.because == "incomplete"
