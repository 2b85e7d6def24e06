"""Power that was on with no guard is told: how long, and whether the unit stayed on."""

import signal
from pathlib import Path

import pytest
import trio
from guarded_bench import GuardedBench, kill
from patience import LIMIT_S

from soak.clock import LeapingClock
from soak.desk.morning.show import show
from soak.errors import BenchFault
from soak.journal import open_evidence
from soak.run.guard.found_on import found_on


def shown(bench: GuardedBench, soak: str = "last") -> str:
    return show(bench.folder, soak, "", as_json=False)


def unguarded(bench: GuardedBench) -> list:
    return list(open_evidence(bench.soak_folder()).marks("unguarded"))


def until_powered(bench: GuardedBench) -> None:
    """Wait until it is on record that the unit has power: without it there is nothing to guard."""
    bench.until(lambda: "power" in [m.what for m in open_evidence(bench.soak_folder()).marks()])


def test_a_guard_that_died_leaves_word_of_how_long_nobody_guarded(tmp_path: Path):
    """From its last word to the off that the soak program made without it."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        until_powered(bench)
        kill(bench.guard_pid())
        runner.wait(LIMIT_S)
        (mark,) = unguarded(bench)
        assert mark.detail["by"] == "runner"
        assert mark.t_s - mark.detail["from_s"] >= 0
        assert "with no guard running" in shown(bench)


def test_both_killed_is_told_at_once_and_after_the_resume(tmp_path: Path):
    """The unit stayed on until `soak resume`; `soak show` says so before and after that."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        until_powered(bench)
        kill(bench.guard_pid(), signal.SIGSTOP)  # so that it cannot act between the two kills
        kill(runner.pid)
        kill(bench.guard_pid())
        runner.wait(LIMIT_S)
        assert bench.relays.is_on()
        before_s = open_evidence(bench.soak_folder()).ends_s
        assert "nothing says that it was switched off: look at the unit" in shown(bench)
        assert "look at the unit" in " ".join(shown(bench, "").split())  # and of the whole bench
        again = bench.run(verb=("resume", "last", "--may-sleep"))
        bench.until(lambda: bool(unguarded(bench)))
        again.send_signal(signal.SIGINT)
        again.wait(LIMIT_S)
        (mark,) = unguarded(bench)
        assert mark.detail["by"] == "resume"
        assert mark.detail["found_on"] is None  # these relays cannot be asked
        assert mark.detail["from_s"] >= before_s
        told = shown(bench)
        assert "nobody switched it off, and the switch cannot say" in told
        assert "look at the unit" not in told


def test_a_guard_that_outlived_its_runner_leaves_nothing_to_tell(tmp_path: Path):
    """Its log says that it switched off, though the journal could not take that any more."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        until_powered(bench)
        kill(runner.pid)
        runner.wait(LIMIT_S)
        bench.until(lambda: not (bench.guard_folder() / "socket").exists())
        assert "look at the unit" not in shown(bench)


class Relay:
    @property
    def identity(self) -> dict:
        return {}

    async def aclose(self) -> None: ...


class AskedRelay(Relay):
    def __init__(self, answer) -> None:
        self._answer = answer

    async def asked_on(self, channel: str) -> bool:
        if isinstance(self._answer, Exception):
            raise self._answer
        if self._answer is None:
            await trio.sleep_forever()
        return self._answer


@pytest.mark.parametrize(
    ("switch", "says"),
    [
        (AskedRelay(True), True),
        (AskedRelay(False), False),
        (AskedRelay(None), None),
        (AskedRelay(BenchFault("switch", "is mute")), None),
        (AskedRelay(RuntimeError("a driver that breaks")), None),
        (Relay(), None),
        (None, None),
    ],
)
def test_a_switch_is_asked_and_whatever_it_does_off_is_not_held_up(switch, says):
    """On, off, mute for ever, broken, or unable to say."""
    assert trio.run(found_on, switch, "1", clock=LeapingClock()) is says
