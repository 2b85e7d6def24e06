"""Every question of the program, left unanswered or answered no: nothing rests on it.

The table names each file that asks; one more file that asks fails here until it is tried, too.
"""

from pathlib import Path

import pytest
import trio
from bench_tools import nobody
from one_unit_bench import bench_with_k1
from planned_bench import FIXTURE, GOOD
from short_soak import soak
from typed_bench import typed

from soak.bench.drivers.by_hand import ButtonByHand, HandButton, HandSwitch, SwitchByHand
from soak.clock import LeapingClock
from soak.desk.soaking import standing
from soak.errors import BenchFault, ExitCode
from soak.roles import Question
from soak.run.asking import Asking

SWITCH = '[switch]\ndriver = "simulated"\n'
CAPTURE = '[capture]\ndriver = "simulated"\nport = "video"\n'
LINK = '[link]\ndriver = "simulated"\nport = "usb1"\n'
SUPPLY = '[probe.supply]\ndriver = "simulated"\nunit = "A"\naccuracy = 0.02\nevery_s = 1.0\n'
HEATSINK = '[probe.heatsink]\ndriver = "simulated"\nspot = "heatsink"\naccuracy = 1.0\n'
IDLE = {"running_s": 60, "idle_s": 60, "standby_s": 0, "settles_s": 10}

ASKS = {
    "bench/drivers/by_hand.py": "here; what a probe takes for a reading: bench/test_by_hand.py",
    "bench/drivers/device.py": "bench/test_stick_device.py",
    "checks/base.py": "cli/test_by_eye_soak.py",
    "checks/by_hand.py": "cli/test_by_hand_soak.py",
    "checks/current_draw.py": "here",
    "checks/look.py": "here",
    "checks/reseat.py": "here",
    "checks/wiggle.py": "here",
    "derive/electric/power.py": "asks nobody: tells by the question if an answer was wanted",
    "desk/beginning/answers.py": "asks nobody: reads what was typed as an answer is read",
    "desk/soaking/inbox.py": "asks nobody: tells whether a typed answer fits",
    "desk/soaking/joining.py": "asks again what a soak asks: cli/test_join.py",
    "desk/hands/swap.py": "here",
    "live/prompt.py": "before anything runs: cli/test_before_the_night.py",
    "run/proving.py": "run/test_proving_off.py",
    "run/stretch.py": "here and cli/test_nobody_answers.py",
}
"""Files of the program that make a question, and where it is tried that nobody answers it."""


def test_every_file_that_asks_is_named_here():
    """A question that nobody tried unanswered is one that may be taken for answered."""
    top = Path(standing.__file__).parents[2]
    asking = {
        file.relative_to(top).as_posix()
        for file in top.rglob("*.py")
        if "Question(" in file.read_text().replace("class Question", "")
    }
    assert asking == set(ASKS)


async def away(unit, question):
    """Never answer."""
    await trio.sleep_forever()


async def refuses(unit, question):
    """Say that it was not done, or the other answer."""
    await trio.sleep(1.0)
    return "yes" if question.wanted == "no" else "no"


silent_or_no = pytest.mark.parametrize("answer", [away, refuses])


@silent_or_no
@pytest.mark.parametrize(
    ("fixture", "checks", "lasts"),
    [
        pytest.param(SWITCH + CAPTURE, {"look": {}}, "", id="look-over"),
        pytest.param(SWITCH + CAPTURE + SUPPLY, {"current_draw": IDLE}, "", id="left alone"),
        pytest.param(SWITCH + LINK, {"reseat": {}}, "", id="reseat"),
        pytest.param(
            SWITCH + CAPTURE, {"wiggle": {"port": "video", "rest_s": 20}}, "", id="wiggle"
        ),
        pytest.param(HEATSINK, {"spots": {}}, "1 min", id="no switch, spots"),
        pytest.param(CAPTURE, {"picture": {}}, "1 min", id="no switch, picture"),
        pytest.param(LINK, {"link": {}}, "1 min", id="no switch, link"),
    ],
)
def test_a_question_without_its_answer_shows_nothing(tmp_path, fixture, checks, lasts, answer):
    """The soak ends by itself, and nothing that rests on the answer is met."""
    found = soak(tmp_path, fixture, checks, lasts=lasts, answer=answer)
    met = {name for name, one in found.findings.items() if one.verdict.value == "met"}
    measured = {"it/current_draw/running"} if "current_draw" in checks else set()
    assert met <= measured  # what it drew at work the probe read; nobody had to say anything
    assert any(mark.what == "answer" for mark in found.marks)
    if "switch" not in fixture or "look" in checks:
        assert not any(mark.what == "power" and mark.detail["on"] for mark in found.marks)


async def says_no(question):
    """Say at once that it was not done."""
    await trio.lowlevel.checkpoint()
    return "no"


@pytest.mark.parametrize("ask", [nobody, says_no])
@pytest.mark.parametrize("on", [True, False])
def test_a_switch_by_hand_that_nobody_worked_did_not_answer(ask, on):
    """Neither on nor off: the guard takes it as a switch without an answer."""
    switch = SwitchByHand("switch", HandSwitch(driver="by_hand", wait_s=1.0), ask)
    with pytest.raises(BenchFault, match="switched the unit's power"):
        trio.run(switch.command, "", on)


@pytest.mark.parametrize("ask", [nobody, says_no])
def test_a_button_by_hand_that_nobody_pressed_was_not_pressed(ask):
    """A press that nobody confirms is none."""
    button = ButtonByHand("button", HandButton(driver="by_hand", wait_s=1.0), ask)
    with pytest.raises(BenchFault, match="pressed the unit's power button"):
        trio.run(button.press, 0.5)


def test_a_question_before_there_is_a_soak_waits_no_longer_than_it_says():
    """A driver that asks while it opens goes on without an answer."""
    clock = LeapingClock()

    async def main() -> object:
        async def sleeps(question: Question) -> None:
            await trio.sleep_forever()

        answer = await Asking(sleeps, clock)(Question("stick/destroy", "?", "yes/no", wait_s=300.0))
        assert trio.current_time() == 300.0
        return answer

    assert trio.run(main, clock=clock) is None


@pytest.mark.parametrize("given", [None, "no"])
def test_a_swap_that_nobody_made_decides_nothing(tmp_path, monkeypatch, given):
    """Unanswered is not tried, and without a swap nothing is said of bench or unit."""

    async def ask(question):
        await trio.sleep(1.0)
        return given

    drops = '[contacts.video]\nlooks = "no signal"\n[contacts.video.opens]\nper_hour = 60.0\n'
    scene = tmp_path / "scene.toml"
    scene.write_text(GOOD + drops + "lasts_s = [0.3, 1.0]\n")
    bench = bench_with_k1(tmp_path / "bench", FIXTURE.replace('"scene.toml"', f'"{scene}"'))
    monkeypatch.setattr(standing, "as_wanted", lambda said: ask)
    said = typed("--bench", str(bench), "swap", "K1@left", "--seconds", "300")
    assert said.code == ExitCode.DONE, said.err
    assert said.err.count("not tried") == 3
    assert said.sentence == "Nothing was swapped, so nothing is decided."
