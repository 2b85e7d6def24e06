"""A supply that gives more than it is set to: the guard reads it, and cuts before it does harm.

The real driver speaks SCPI to a pseudo terminal; the questions are those of SCPI-99 volume 2
(`MEAS:VOLT?`, 3.2) and IEEE 488.2 (`*IDN?`).
"""

from pathlib import Path

import pytest
from as_recorded import judged_as_recorded
from patience import LIMIT_S
from played_unit import played_unit
from supplied_bench import SuppliedBench, Supply

from soak.errors import ExitCode
from soak.journal import open_evidence

HIGHEST_V, ACCURACY_V = 13.2, 0.05
CYCLES = """\
name = "limits"
not_after = "10 min"
[[stretch]]
name = "limits"
[stretch.power_cycles]
warm = 2
off_s = 1
on_s = 3
"""


class Fed(Supply):
    """A supply that remembers the voltage and time of each of its ons and offs."""

    def answer(self, line: bytes) -> bytes:
        answer = super().answer(line)
        if line.startswith(b"OUTP O"):
            self.gave = [*getattr(self, "gave", []), (self.told[-1][0], self.fed_v)]
        return answer

    def too_much_for_s(self) -> float:
        """Return for how long the unit had more than it is rated for, s."""
        spans = zip(self.gave, [*self.gave[1:]], strict=False)
        return sum(after[0] - at_s for (at_s, volt), after in spans if volt > HIGHEST_V)


def soaked(folder: Path, supply: Fed, script: str = "") -> tuple[int, str, list[str]]:
    """Run a script; return its exit code, what was said and the alarms on record."""
    with played_unit(supply) as unit, SuppliedBench(folder, supply, unit.address) as bench:
        if script:
            (folder / "scripts" / "limits.toml").write_text(script)
        code = bench.run().wait(LIMIT_S)
        evidence = open_evidence(bench.soak_folder())
        alarms = [str(mark.detail["why"]) for mark in evidence.marks("alarm")]
        return code, bench.said(), alarms


@pytest.mark.parametrize("script", ["", CYCLES], ids=["supply margin", "power cycles"])
def test_a_supply_that_gives_more_than_the_unit_is_rated_for_is_cut_at_once(tmp_path, script):
    """A quarter more than is set: 13.56 V at the lowest limit, 15 V at nominal. Off, alarm, end."""
    supply = Fed(gives=1.25)
    code, said, alarms = soaked(tmp_path, supply, script)
    assert supply.too_much_for_s() < 2.0  # a second, and what a busy computer is late
    assert not supply.on
    assert code == ExitCode.INCOMPLETE, said
    (alarm,) = [why for why in alarms if "rated for at most 13.2 V" in why]
    assert "the supply gives 1" in alarm
    assert "ALARM" in said
    assert len([word for word in supply.words() if word == "OUTP ON"]) == 1


def test_a_supply_whose_voltage_rises_later_is_cut_while_the_unit_is_on(tmp_path):
    """Somebody turned its knob amid a run: not only the next on finds it."""
    supply = Fed()
    with played_unit(supply) as unit, SuppliedBench(tmp_path, supply, unit.address) as bench:
        (tmp_path / "scripts" / "limits.toml").write_text(CYCLES.replace("on_s = 3", "on_s = 600"))
        bench.run()
        bench.until(lambda: supply.is_on and supply.asked >= 3)
        supply.gives = 1.25
        bench.until(lambda: not supply.on)
        bench.runner.wait(LIMIT_S)
        alarms = [str(m.detail["why"]) for m in open_evidence(bench.soak_folder()).marks("alarm")]
    assert any("gives 15.00 V" in why for why in alarms)


def test_the_highest_voltage_is_not_set_where_the_lowest_was_exceeded(tmp_path):
    """A tenth more: 11.9 V harms nothing, and 13.15 V would be 14.5 V."""
    supply = Fed(gives=1.1)
    with played_unit(supply) as unit, SuppliedBench(tmp_path, supply, unit.address) as bench:
        code = bench.run().wait(LIMIT_S)
        judged = judged_as_recorded(open_evidence(bench.soak_folder()))
        said = bench.said()
    found = {one.requirement.id.rpartition("/")[2]: str(one.because) for one in judged.findings}
    assert supply.too_much_for_s() == 0.0
    assert not [word for word in supply.words() if word == "VOLT 13.1500"]
    assert code == ExitCode.INCOMPLETE, said
    assert "gives 1.10 times what it is set to, so 13.15 V would be 14.47 V" in said
    assert "1.10 times" in found["highest"]


def test_a_supply_that_does_not_say_what_it_gives_feeds_no_unit(tmp_path):
    """What nobody can read nobody can guard."""
    supply = Fed(mute=True)
    code, said, alarms = soaked(tmp_path, supply, CYCLES)
    assert code == ExitCode.INCOMPLETE, said
    assert any("does not say what it gives" in why for why in alarms)
    assert not supply.on


def test_a_supply_within_its_accuracy_is_left_alone(tmp_path):
    """The highest rated voltage less 0.05 V, which it may be wrong by, and 0.04 V more."""
    supply = Fed(gives=1 + 0.04 / 13.15)
    _, said, alarms = soaked(tmp_path, supply)
    assert alarms == [], said
    assert "VOLT 13.1500" in supply.words()
