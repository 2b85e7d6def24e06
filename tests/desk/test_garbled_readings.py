"""One garbled reading of a probe, from the soak to the grade: it costs nobody a night."""

from dataclasses import dataclass

import pytest
from one_unit_bench import bench_with_k1, narrow

from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.desk.morning.show import show
from soak.desk.soaking import run
from soak.desk.soaking.grading import grade_job
from soak.errors import ExitCode
from soak.rules.core.verdict import Judgement

SCENE = """\
truth = "nothing; the probe's words come garbled"
truth_grade = "ready"
fault = "none"
[bench.probe_garbles]
probe = "{probe}"
at_s = ["7 min", "12 min"]
reads = {reads}
"""
FIXTURE = """\
name = "bench"
simulated = "{scene}"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
""" + "".join(
    f"""\
[probe.{spot}]
driver = "simulated"
spot = "{spot}"
accuracy = 1.0
guards = {guards}
every_s = "2 s"
"""
    for spot, guards in (("heatsink", "true"), ("outside", "true"), ("ambient", "false"))
)
SCRIPT = """\
name = "short"
not_after = "40 min"
[[stretch]]
name = "starts"
attended = true
[stretch.power_cycles]
warm = 3
off_s = 20
on_s = 40
[stretch.picture]
[[stretch]]
name = "run"
lasts = "12 min"
attended = true
[stretch.picture]
[stretch.spots]
"""
OTHERS = ("service_usb",)
"""Key functions that this bench wires nothing for."""


@dataclass
class Soaked:
    code: int
    judgement: Judgement
    shown: str


def soaked(tmp_path, probe, *reads, guards=True):
    """Soak a good unit for twelve minutes; one of its probes reads these values in turn, once."""
    bench, scene = tmp_path / "bench", tmp_path / "garbled.toml"
    scene.write_text(SCENE.format(probe=probe, reads=list(reads)))
    fixture = FIXTURE.format(scene=scene)
    bench_with_k1(bench, fixture if guards else fixture.replace("= true", "= false"))
    (bench / "scripts").mkdir()
    (bench / "scripts" / "short.toml").write_text(SCRIPT)
    narrow(bench, "K1-1", *OTHERS)
    code = run.run(bench, "short", ["K1@left.toml"], seed=3, may_sleep=False)
    folder = BenchFolder(bench)
    graded = grade_job(folder, units.open_ledger(bench), folder.find_soak("last"))
    return Soaked(code, graded.judgement, show(bench, "last", "", as_json=False))


@pytest.mark.parametrize(
    ("probe", "value"),
    [("heatsink", 85.0), ("ambient", 85.0), ("ambient", -20.0), ("outside", -49.0)],
)
def test_one_garbled_reading_beyond_a_limit_costs_no_night(tmp_path, probe, value):
    """Over the limit, or so far off that the rise is beyond its own: ready, and told."""
    found = soaked(tmp_path, probe, value)
    assert found.code == ExitCode.AS_FAR_AS_TESTED, found.judgement.reason
    told = f"1 garbled reading of {probe} counts for nothing: {value:.1f} °C"
    assert told.replace("-", "−") in found.shown.replace("-", "−")


@pytest.mark.parametrize("value", [200.0, 850.0, -127.0])
def test_one_garbled_reading_makes_no_hours_unobserved(tmp_path, value):
    """A reading that no spot has, or that looks like a rise that never comes again."""
    found = soaked(tmp_path, "outside", value, guards=False)
    assert found.code == ExitCode.AS_FAR_AS_TESTED, found.judgement.reason
    assert "hole" not in found.shown


def test_a_trip_on_one_garbled_reading_is_the_benchs_and_named(tmp_path):
    """The guard cuts at once; what is read next shows that it was no heat."""
    found = soaked(tmp_path, "outside", 85.0)
    assert found.code == ExitCode.INCOMPLETE
    assert "one garbled reading: outside read 85.0 °C once" in found.judgement.reason
    assert "no event of the unit" in found.shown


def test_a_trip_with_a_second_hot_reading_is_the_units(tmp_path):
    """85 and then 84: whatever it was, it was seen twice."""
    found = soaked(tmp_path, "outside", 85.0, 84.0)
    assert found.code == ExitCode.FAILED
    assert "1 trip of the guard" in found.judgement.reason


def test_a_trip_on_a_torn_probe_is_the_benchs_and_named(tmp_path):
    """850 again and again: no spot of a unit has that."""
    found = soaked(tmp_path, "outside", *[850.0] * 20)
    assert found.code == ExitCode.INCOMPLETE
    assert "outside read 850.0 °C, which no spot of a unit can have" in found.judgement.reason
