"""`soak prove` by hand: asked once, waited for in the open; no power claimed that nobody gave."""

import subprocess
import sys

import pytest
import trio
from one_unit_bench import bench_with_k1
from patience import LIMIT_S
from soak_process import new_bench
from terminal_bench import Terminal
from typed_bench import typed

from soak.clock import LeapingClock
from soak.desk.soaking.standing import Patient
from soak.errors import ExitCode
from soak.roles import Question

BY_HAND = """\
name = "by hand"
[probe.outside]
driver = "by_hand"
text = "the thermometer"
spot = "outside"
every_s = 60
accuracy = 1.0
"""
NO_CAPTURE = """\
name = "relay and thermometer"
simulated = "good"
[switch]
driver = "simulated"
[probe.heatsink]
driver = "simulated"
spot = "heatsink"
accuracy = 1.0
"""
PROVE = ("prove", "hand", "--model", "clip-player")
BRIEFLY = """
import soak.run.proving as proving
proving._ON_WITHIN_S = 0.5
from soak.cli.main import main
main()
"""


@pytest.fixture
def bench(tmp_path):
    new_bench(tmp_path / "bench")
    (tmp_path / "bench" / "fixtures" / "hand.toml").write_text(BY_HAND)
    return tmp_path / "bench"


def test_without_a_terminal_it_says_that_nobody_can_answer_and_claims_no_power(bench):
    """It names no soak that there is not, says how long it waits, and what it did not do."""
    ended = subprocess.run(
        [sys.executable, "-c", BRIEFLY, "--bench", str(bench), *PROVE],
        check=False,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=LIMIT_S,
    )
    assert ended.returncode == ExitCode.DONE, ended.stderr
    assert ended.stderr.count("how many degC?") == 1
    assert "Nobody can answer here, for it is no terminal: soak waits 10 min" in ended.stderr
    assert "soak answer" not in ended.stderr
    assert "- probe.outside    warm up: nobody said that the unit is on" in ended.stderr
    assert "with power on" not in ended.stderr


def test_at_a_terminal_it_asks_whether_the_unit_is_on(bench):
    """No switch is wired: the operator is the only one who knows, and no is no."""
    with Terminal(bench, *PROVE) as terminal:
        while terminal.until("Is this unit on?", "how many degC?") != "Is this unit on?":
            terminal.type("21")
        terminal.until("(Enter when done, or no)")
        terminal.type("no")
        terminal.until("warm up: nobody said that the unit is on")
        assert terminal.ended() == ExitCode.DONE


def test_a_switch_is_switched_on_for_a_thermometer_alone(tmp_path):
    """No capture is wired: the unit gets power all the same before it is to warm."""
    bench = bench_with_k1(tmp_path, NO_CAPTURE)
    said = typed("--bench", str(bench), "prove", "left", "--unit", "K1")
    assert "+ probe.heatsink   warm up with power on: heatsink:" in said.err
    assert said.code == ExitCode.DONE


def test_a_reading_is_asked_for_once_while_a_unit_warms():
    """A question that a soak would drop after a minute stands as long as the step lasts."""
    asked: list[float] = []

    class Hand:
        def put_on_record(self, mark: object) -> None: ...

        async def ask(self, source: str, question: Question) -> float:
            await trio.sleep(0)
            asked.append(question.wait_s)
            return 21.0

    async def main() -> None:
        await Patient(Hand()).ask("by hand", Question("probe.outside.1", "?", "number", "degC", 60))

    trio.run(main, clock=LeapingClock())
    assert asked == [600.0]
