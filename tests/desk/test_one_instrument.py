"""soak is useful with any one instrument, and claims no more than that one shows."""

import json
from pathlib import Path

import pytest
from one_unit_bench import bench_with_k1

from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.desk.paper.details import details_file
from soak.desk.soaking import run
from soak.desk.soaking.grading import grade_job
from soak.errors import ExitCode
from soak.rules.core.verdict import Verdict

PARTS = {
    "switch": '[switch]\ndriver = "simulated"\n',
    "capture": '[capture]\ndriver = "simulated"\nport = "video"\n',
    "stick": '[stick]\ndriver = "simulated"\nport = "usb1"\npath = "through"\n',
    "probe": '[probe.outside]\ndriver = "simulated"\nspot = "outside"\naccuracy = 1.0\n',
}


KEYS = {"picture": "video", "power_cycles": "start", "transfer": "service_usb", "spots": "cooling"}
"""The model's key functions, by the check that shows each."""


def soaked(bench: Path, *wired: str, claims: set[str]):
    """Soak a good unit for an evening with only these instruments; return code and judgement."""
    parts = "".join(PARTS[name] for name in wired)
    bench_with_k1(bench, f'name = "few"\nsimulated = "good"\n{parts}')
    left_out = [function for check, function in KEYS.items() if check not in claims]
    details = details_file(BenchFolder(bench), "K1-1")
    details.parent.mkdir()
    details.write_text(f"left_out = {json.dumps(left_out)}\n")
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
def test_a_good_unit_is_ready_as_far_as_one_instrument_shows(tmp_path, wired, checks):
    """What is met comes from the wired instruments alone; the rest is not claimed, not hidden."""
    code, judgement = soaked(tmp_path, *wired, claims=checks)
    met = {f.requirement.check for f in judgement.findings if f.verdict is Verdict.MET}
    others = {f.verdict for f in judgement.findings if f.requirement.check not in met}
    assert code == ExitCode.AS_FAR_AS_TESTED
    assert met == checks
    assert others <= {Verdict.NOT_TESTED}


def test_a_switch_alone_shows_nothing_of_the_unit(tmp_path):
    """Answers of a hand and a relay are no test of a function: incomplete, never ready."""
    code, judgement = soaked(tmp_path, "switch", claims=set())
    assert code == ExitCode.INCOMPLETE
    assert judgement.because == "incomplete"
