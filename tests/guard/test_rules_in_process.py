"""The guard's rules hold through its process: trip, silence, a lost adapter, told to end."""

import json
import signal
from pathlib import Path

from guarded_bench import GuardedBench, kill
from patience import LIMIT_S

from soak.journal import open_evidence
from soak.run.guard.log import check_log, read_log


def test_a_hot_spot_trips_through_the_guards_own_probe(tmp_path: Path):
    """The guard cuts, latches, and the soak ends; seal and log agree."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        bench.heat("1", 95.0)
        runner.wait(LIMIT_S)
        assert not bench.relays.is_on()
        folder = bench.soak_folder()
        evidence = open_evidence(folder)
        (trip,) = evidence.marks("trip")
        assert (trip.detail["value"], trip.detail["limit"]) == (95.0, 90.0)
        seal = evidence.seal
        assert seal is not None
        check_log(folder, seal.guard_log)
        assert "trip" in [entry.what for entry in read_log(folder)]


def test_readings_of_the_guards_probe_reach_the_journal_in_soak_time(tmp_path: Path):
    """What the guard's process measured stands in the journal as if the runner had."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        bench.until(lambda: len(readings(bench)) >= 5)
        runner.send_signal(signal.SIGINT)
        runner.wait(LIMIT_S)
        times = readings(bench)
        assert set(values(bench)) == {40.0}
        assert 0 <= times[0] < times[-1] <= open_evidence(bench.soak_folder()).ends_s


def test_a_silent_guarding_probe_cuts_and_holds(tmp_path: Path):
    """Without its thermometer the unit is not left on."""
    with GuardedBench(tmp_path, silent_after_s=2.0) as bench:
        bench.started()
        (tmp_path / "heatsink-1.txt").unlink()
        bench.until(lambda: not bench.relays.is_on())
        bench.until(lambda: "silence" in [entry.what for entry in read_log(bench.soak_folder())])


def test_a_lost_adapter_is_said_and_switched_off_first_when_it_is_back(tmp_path: Path):
    """Pulled out while the unit is on: the first word after it is plugged in again is off, the soak
    goes on, and what fell silent was the switch.
    """
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        bench.peer.unplug()
        bench.until(lambda: "switch it off by hand" in bench.said())
        assert "the switch fell silent" in bench.said()
        words = len(bench.relays.told)
        bench.peer.plug()
        bench.until(lambda: len(bench.relays.told) > words)
        assert bench.relays.told[words][1:] == ("1", False)
        bench.until(lambda: "the switch works again" in bench.said())
        assert runner.poll() is None
        runner.send_signal(signal.SIGINT)
        runner.wait(LIMIT_S)
        assert {on for _, _, on in bench.relays.told[words:]} == {False}
        (silence,) = open_evidence(bench.soak_folder()).marks("silence")
        assert silence.detail["source"] == "switch"
        last = read_log(bench.soak_folder())[-1]
        assert (last.what, last.detail["why"]) == ("guard ends", "Ctrl-C by the operator")


def test_a_guard_told_to_end_switches_off_before_it_goes(tmp_path: Path):
    """A host that shuts down ends its programs politely first; that is enough for off."""
    with GuardedBench(tmp_path) as bench:
        bench.started()
        kill(bench.guard_pid(), signal.SIGTERM)
        bench.until(lambda: not bench.relays.is_on())
        bench.until(lambda: "bench fault: the guard" in bench.said())


def readings(bench: GuardedBench) -> list[float]:
    return list(open_evidence(bench.soak_folder()).series("probe.heatsink")[0])


def values(bench: GuardedBench) -> list[float]:
    return list(open_evidence(bench.soak_folder()).series("probe.heatsink")[1])


def test_the_log_tells_what_was_done_when_no_journal_was_kept_any_more(tmp_path: Path):
    """After the runner's death only the guard knows when the unit went off."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        kill(runner.pid)
        bench.until(lambda: "guard ends" in [one.what for one in read_log(bench.soak_folder())])
        last_off = [e for e in read_log(bench.soak_folder()) if e.what == "power"][-1]
        assert json.loads(json.dumps(dict(last_off.detail)))["on"] is False
