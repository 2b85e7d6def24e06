"""The supply's limits through the guard's process: within what is rated, and nominal at every end.

The real driver speaks SCPI to a pseudo terminal; commands are those of SCPI-99 volume 2, 19.21.
"""

import signal
import time
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import pytest
from as_recorded import judged_as_recorded, verdicts_as_recorded
from patience import LIMIT_S
from played_unit import played_unit
from supplied_bench import NOMINAL_V, SuppliedBench, Supply, kill

from soak.errors import ExitCode
from soak.journal import open_evidence

MOST_TRIES = 10


def tried(
    folder: Path, supply: Supply, shown: Sequence[str] = ()
) -> tuple[int, str, dict[str, str]]:
    """Run the script to its end; return exit code, what was said and what the records amount to.

    A bench whose computer was too busy to look shows nothing, as it should: then it runs again,
    until what is in `shown` is shown.
    """
    for attempt in range(MOST_TRIES):
        place = folder / f"try-{attempt}"
        place.mkdir()
        supply.told.clear()
        with played_unit(supply) as unit, SuppliedBench(place, supply, unit.address) as bench:
            code = bench.run().wait(LIMIT_S)
            found = verdicts_as_recorded(open_evidence(bench.soak_folder()))
            verdicts = {name.rpartition("/")[2]: verdict for name, verdict in found.items()}
            if all(verdicts[name] != "not shown" for name in shown):
                break
    return code, bench.said(), verdicts


def volts(supply: Supply) -> list[float]:
    return [float(word.split()[1]) for word in supply.words() if word.startswith("VOLT")]


def test_a_good_unit_is_tried_at_both_limits_and_by_a_break_and_left_nominal(tmp_path: Path):
    """Lowest and highest with the accuracy kept clear, a break of 0.1 s, then off and nominal."""
    supply = Supply()
    _, said, verdicts = tried(tmp_path, supply, ("lowest", "highest", "short breaks"))
    assert verdicts == {"lowest": "met", "highest": "met", "short breaks": "met"}, said
    assert set(volts(supply)) == {NOMINAL_V, 10.85, 13.15}  # 10.8 + 0.05 and 13.2 - 0.05
    assert (supply.on, supply.volt) == (False, NOMINAL_V)


def test_each_voltage_is_set_only_while_the_output_is_off(tmp_path: Path):
    """A running unit sees no step, and a break has nothing between off and on."""
    supply = Supply()
    tried(tmp_path, supply, ("short breaks",))
    on = False
    for word in supply.words():
        assert not (on and word.startswith("VOLT"))
        on = word == "OUTP ON" if word.startswith("OUTP") else on
    words = [(t_s, word) for t_s, word in supply.told if word.startswith(("OUTP", "VOLT"))]
    breaks = [b[0] - a[0] for a, b in pairwise(words) if (a[1], b[1]) == ("OUTP OFF", "OUTP ON")]
    assert min(breaks) >= 0.09  # 0.1 s as asked, less what a terminal and its reader are late


def test_a_unit_that_fails_at_low_supply_is_not_ready(tmp_path: Path):
    """The lowest rated voltage is not met, the highest is.

    That the supply is played on a pseudo terminal costs the grade, which is no failure of a unit.
    """
    supply = Supply(starts_from_v=11.4)
    code, said, verdicts = tried(tmp_path, supply, ("lowest", "highest"))
    assert (verdicts["lowest"], verdicts["highest"]) == ("not met", "met"), said
    assert code == ExitCode.INCOMPLETE
    assert "the switch is a pseudo-terminal" in said


def test_a_supply_that_sags_shows_nothing(tmp_path: Path):
    """What it measures is not what it was set to: neither for the unit nor against it.

    Nor at nominal, where the breaks are made.
    """
    supply = Supply(sags_v=0.4)
    _, said, verdicts = tried(tmp_path, supply)
    assert set(verdicts.values()) == {"not shown"}, said


def test_a_supply_whose_own_current_limit_holds_it_shows_nothing(tmp_path: Path):
    """It comes and goes, and one reading of seven sees it: neither for the unit nor against it."""
    supply = Supply(limits_every=7)
    with played_unit(supply) as unit:
        bench = SuppliedBench(tmp_path, supply, unit.address, hold_s=6.0)
        with bench:
            bench.run().wait(LIMIT_S)
            judged = judged_as_recorded(open_evidence(bench.soak_folder()))
    found = {one.requirement.id.rpartition("/")[2]: one for one in judged.findings}
    for end, half in (("lowest", "5.42 V"), ("highest", "6.58 V")):
        assert found[end].verdict.value == "not shown"
        assert f"the supply gave {half} where" in str(found[end].because)


def test_a_start_that_a_busy_computer_did_not_see_is_tried_again(tmp_path: Path):
    """Nothing ran for half a second of it: it shows nothing, and another is made in its place."""
    supply = Supply()
    with (
        played_unit(supply) as unit,
        SuppliedBench(tmp_path, supply, unit.address, hold_s=4.0) as bench,
    ):
        runner = bench.run()
        bench.until(lambda: supply.on and supply.volt < NOMINAL_V)
        time.sleep(2.0)
        kill(runner.pid, signal.SIGSTOP)
        time.sleep(0.5)
        kill(runner.pid, signal.SIGCONT)
        runner.wait(LIMIT_S)
        evidence = open_evidence(bench.soak_folder())
        trials = [m.detail for m in evidence.marks("supply trial") if m.detail["end"] == "lowest"]
        judged = judged_as_recorded(evidence)
    assert trials[0]["blind"]
    assert len(trials) > 1
    if not trials[-1].get("blind"):  # else this computer was busy all the time
        lowest = next(one for one in judged.findings if one.requirement.id.endswith("/lowest"))
        assert lowest.verdict.value == "met"


@pytest.mark.parametrize("whom", ["runner", "guard", "Ctrl-C", "guard told to end"])
def test_whoever_ends_it_at_the_lowest_voltage_it_is_off_and_nominal(tmp_path: Path, whom: str):
    """Killed or stopped while the unit runs at 10.85 V: off comes first, then nominal."""
    supply = Supply()
    with (
        played_unit(supply) as unit,
        SuppliedBench(tmp_path, supply, unit.address, hold_s=600.0) as bench,
    ):
        runner = bench.run()
        bench.until(lambda: supply.on and supply.volt < NOMINAL_V)
        before = len(supply.told)
        if whom in ("runner", "Ctrl-C"):
            kill(runner.pid, signal.SIGKILL if whom == "runner" else signal.SIGINT)
        else:
            kill(bench.guard_pid(), signal.SIGKILL if whom == "guard" else signal.SIGTERM)
        bench.until(lambda: not supply.on and supply.volt == NOMINAL_V)
        after = [word for _, word in supply.told[before:] if word != "*CLS"]
        assert after[:2] == ["OUTP OFF", f"VOLT {NOMINAL_V:.4f}"]
        assert "OUTP ON" not in after
