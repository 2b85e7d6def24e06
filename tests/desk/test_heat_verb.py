"""Known-good units, kept as references, tell a unit whose compound has dried from a good one."""

import json
import re

import pytest
from typed_bench import SHEET, SIMULATED, TypedBench, typed, words

from soak.ledger.ledger import Ledger

HEAT = """\
name = "heat"
not_after = "9 h"
[[stretch]]
name = "heat"
[stretch.power_cycles]
cold = 2
cold_within_k = 3
cold_off_at_most_s = 5400
cold_on_s = 7200
[stretch.spots]
limits = false
like_reference_k = 4
"""
PROBES = """
[probe.outside]
driver = "simulated"
spot = "outside"
accuracy = 1.0
[probe.ambient]
driver = "simulated"
spot = "ambient"
accuracy = 0.5
[probe.supply]
driver = "simulated"
unit = "A"
"""


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """Make a bench: K1 soaked as a reference, K2 good too, K3 with dried compound."""
    path = tmp_path_factory.mktemp("heat")
    bench = TypedBench(path)
    sheet = SHEET.read_text().replace("mains = false", "rated_ambient_degc = 35\nmains = false", 1)
    bench.write("fixtures/models/ferrow-sp-40.toml", sheet)
    bench.write("fixtures/good.toml", SIMULATED + PROBES)
    dried = SIMULATED.replace('simulated = "good"', 'simulated = "overheats"')
    bench.write("fixtures/dried.toml", dried + PROBES)
    bench.write("scripts/heat.toml", HEAT)
    ledger = Ledger(path / "ledger.sqlite")
    for tag in ("K1", "K2", "K3"):
        ledger.add_unit(model="ferrow-sp-40", tag=tag, serial=f"SP40-{tag}")
    for tag, fixture, more in (
        ("K1", "good", ["--as-reference"]),
        ("K2", "good", []),
        ("K3", "dried", []),
    ):
        said = typed(
            *words(bench, "run", "heat", "--seed", "1", "--unit", f"{tag}@{fixture}.toml", *more)
        )
        assert said.err
    return bench


def findings(bench, tag):
    """Return verdict and sentence of the demands to be like the reference."""
    said = typed(*words(bench, "judge", tag, "--json"))
    found = json.loads(said.out)["findings"]
    return [one for one in found if one["requirement"]["rule"] == "like the reference"]


def test_dried_compound_is_found_beside_one_known_good_unit(bench):
    """The scene `overheats` was made 10 K and more too hot; the scene `good` is like K1."""
    good, dried = ([one["verdict"] for one in findings(bench, tag)] for tag in ("K2", "K3"))
    assert good[0] == "met"
    assert "not met" not in good
    assert dried[0] == "not met"
    assert "met" not in dried


def test_the_reference_itself_has_none(bench):
    """K1 was soaked first: nothing was there to compare it with, and that is said."""
    assert {one["verdict"] for one in findings(bench, "K1")} == {"not shown"}
    assert "--as-reference" in findings(bench, "K1")[0]["because"]


def test_heat_tells_ends_cycles_and_currents(bench):
    """Everything on one page, for people and for programs."""
    said = typed(*words(bench, "heat", "K3"))
    assert "above the median of 1 known-good" in said.out
    assert "heat cycle 1:" in said.out
    assert "probe.supply running:" in said.out
    assert "probe.supply off: 0.000 A" in said.out
    data = json.loads(typed(*words(bench, "heat", "K3", "--json")).out)
    assert data["references"][0]["tag"] == "K1"
    assert data["spots"]["probe.heatsink"]["end"]["rise_k"] > 40


def test_an_end_is_moved_to_the_rated_ambient_but_not_a_touch_limit(bench):
    """A rise of 62 K in a room of 35 degC is 97 degC (IEC 60950-1, 1.4.12): above its limit."""
    heatsink, outside = typed(*words(bench, "heat", "K3")).out.split("probe.outside:")[:2]
    (line,) = [one for one in heatsink.splitlines() if "rated ambient" in one]
    rise_k = json.loads(typed(*words(bench, "heat", "K3", "--json")).out)["spots"][
        "probe.heatsink"
    ]["end"]["rise_k"]
    assert f"would end at {rise_k + 35:.1f} °C" in line
    assert "above its limit of 80.0 °C" in line
    assert "rated ambient" not in outside
    assert "a hand that touches it: not moved" in outside


def test_a_limit_of_which_nobody_said_whether_it_is_touched_is_not_moved(bench):
    """Moving it would take the spot for an inner one."""
    file = "fixtures/models/ferrow-sp-40.toml"
    before = (bench.path / file).read_text()
    bench.write(file, re.sub(r"(?m)^touched = .*$", "", before))
    Ledger(bench.path / "ledger.sqlite").add_unit(model="ferrow-sp-40", tag="K5", serial="SP40-5")
    typed(*words(bench, "run", "heat", "--seed", "1", "--unit", "K5@good.toml"))
    bench.write(file, before)
    said = typed(*words(bench, "heat", "K5")).out
    assert said.count("does not say whether it is touched: not moved") == 2


def test_a_soak_without_a_spot_has_no_heat_to_tell(bench):
    """One sentence that says what to do."""
    bench.write("fixtures/bare.toml", SIMULATED.split("[probe")[0])
    bench.write("scripts/bare.toml", HEAT.split("[stretch.spots]")[0])
    Ledger(bench.path / "ledger.sqlite").add_unit(model="ferrow-sp-40", tag="K4", serial="SP40-4")
    typed(*words(bench, "run", "bare", "--unit", "K4@bare.toml"))
    said = typed(*words(bench, "heat", "K4"))
    assert said.code == 2
    assert "wire one in the fixture" in said.sentence


@pytest.mark.parametrize(
    ("surface", "told"),
    [("0.10", "79.9 °C"), ("polished aluminium", "paper tape"), ("chrome", "one of polished")],
)
def test_infrared_tells_the_truth_or_what_to_type(bench, surface, told):
    """Worked by hand (Stefan-Boltzmann): 32.3 degC shown of polished metal is 80 degC."""
    said = typed(*words(bench, "infrared", "32.3", "--emissivity", surface))
    assert told in said.out + said.err
