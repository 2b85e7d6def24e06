"""The operator as switch and thermometer."""

from collections.abc import Iterable
from contextlib import aclosing
from itertools import pairwise

import pytest
import trio
from bench_tools import nobody, open_driver, run_leaping

from soak.bench.registry import Tools
from soak.errors import BenchFault
from soak.records import Reading
from soak.roles import Ask, Question
from soak.states import BLIND

PROBE = {"driver": "by_hand", "text": "the thermometer", "every_s": 60.0, "silent_after_s": 120.0}


def answering(answers: Iterable[str | float | None], asked: list[Question]) -> Ask:
    """Make an operator who gives these answers, each after 5 s."""
    coming = iter(answers)

    async def ask(question: Question) -> str | float | None:
        asked.append(question)
        answer = next(coming)
        await trio.sleep(question.wait_s if answer is None else 5)
        return answer

    return ask


def test_the_switch_returns_when_the_operator_is_done() -> None:
    """Each command is a question of its own, with what to switch and which way."""
    asked: list[Question] = []

    async def main(tools: Tools) -> float:
        settings = {"driver": "by_hand", "text": "the wall socket"}
        switch = await open_driver("switch", "switch", settings, tools)
        await switch.command("1", True)
        await switch.command("1", False)
        return trio.current_time()

    assert run_leaping(main, answering(["done", "done"], asked)) == 10
    assert [question.id for question in asked] == ["switch.1.on", "switch.2.off"]
    assert "Switch the wall socket on now" in asked[0].text


def test_nobody_switching_is_a_bench_fault() -> None:
    """A command that nobody carried out is never taken for done."""

    async def main(tools: Tools) -> None:
        settings = {"driver": "by_hand", "wait_s": 30.0}
        switch = await open_driver("switch", "switch", settings, tools)
        with pytest.raises(BenchFault, match=r"nobody switched the unit's power off within 30 s"):
            await switch.command("1", False)

    run_leaping(main, nobody)


@pytest.mark.parametrize("wrong", ["warm", 2350.0, None, True, float("nan")])
def test_only_a_likely_number_is_a_reading(wrong: str | float | None) -> None:
    """A word, a missing decimal point or no answer leaves no reading behind."""

    async def main(tools: Tools) -> list[float]:
        probe = await open_driver("probe.x", "probe", PROBE, tools)
        found: list[float] = []
        async with aclosing(probe.readings()) as stream:
            async for seen in stream:
                if isinstance(seen, Reading):
                    found.append(seen.value)
                if len(found) == 2:
                    break
        return found

    assert run_leaping(main, answering([21.0, wrong, 23.5], [])) == [21.0, 23.5]


def test_an_operator_who_is_away_makes_the_probe_blind() -> None:
    """Nobody reading the thermometer is a hole, with that as its reason."""

    async def main(tools: Tools) -> str:
        probe = await open_driver("probe.x", "probe", PROBE, tools)
        async with aclosing(probe.readings()) as stream:
            async for seen in stream:
                if not isinstance(seen, Reading) and seen.state == BLIND:
                    return str(seen.detail["why"])
        raise AssertionError

    assert run_leaping(main) == "nobody answered"


def test_the_question_names_spot_and_time_and_warns_of_shiny_metal() -> None:
    """Polished metal of 80 degC reads 32 degC (grey body of emissivity 0.10, worked by hand)."""
    asked: list[Question] = []
    settings = {**PROBE, "spot": "heatsink", "infrared": True}

    async def main(tools: Tools) -> None:
        probe = await open_driver("probe.heatsink", "probe", settings, tools)
        async with aclosing(probe.readings()) as readings:
            async for record in readings:
                if isinstance(record, Reading) and record.t_s > 60:
                    return

    run_leaping(main, answering([40.0, 41.0], asked))
    assert "'heatsink'" in asked[1].text
    assert asked[1].text.startswith("60 s into the soak")
    assert "80 °C as 32 °C" in asked[1].text


def test_whoever_sleeps_is_asked_less_and_less() -> None:
    """Unanswered questions come after 1, 2, 4, 8 and 16 times 60 s; an answer ends that.

    Each waits 60 s; the figures follow from our own rule.
    """
    asked: list[float] = []

    async def ask(question: Question) -> float | None:
        asked.append(trio.current_time())
        if len(asked) in (7, 9):
            return 40.0
        await trio.sleep(question.wait_s)
        return None

    async def main(tools: Tools) -> None:
        probe = await open_driver("probe.heatsink", "probe", PROBE, tools)
        async with aclosing(probe.readings()) as readings:
            async for _ in readings:
                if len(asked) >= 9:
                    return

    run_leaping(main, ask)
    gaps = [after - before for before, after in pairwise(asked)]
    assert gaps[:6] == pytest.approx([60, 120, 240, 480, 960, 960])
    assert gaps[6] == pytest.approx(60)


@pytest.mark.parametrize(
    ("spot", "answers", "read"),
    [
        ("ambient", [70.7, 21.5], [21.5]),  # 70.7 degF is 21.5 degC: no room is so warm
        ("heatsink", [22.0, 40.0, 107.6, 42.0], [22.0, 40.0, 42.0]),  # 107.6 degF is 42 degC
        ("heatsink", [71.6, 22.0], [22.0]),  # a cold unit at the beginning
        ("heatsink", [22.0, 60.0, 60.0], [22.0, 60.0, 60.0]),  # it heats fast, and is not asked
        ("heatsink", [22.0, 71.6, 71.6], [22.0, 71.6]),  # asked again, and it is so
    ],
    ids=["room", "leap", "first", "fast", "confirmed"],
)
def test_what_looks_like_fahrenheit_is_asked_for_again(
    spot: str, answers: list[float], read: list[float]
) -> None:
    """Degrees by (F - 32) / 1.8 (NIST SP 811, B.8); the second answer counts, whichever it is."""
    asked: list[Question] = []

    async def main(tools: Tools) -> list[float]:
        probe = await open_driver("probe.x", "probe", {**PROBE, "spot": spot}, tools)
        found: list[float] = []
        async with aclosing(probe.readings()) as stream:
            async for seen in stream:
                found += [seen.value] if isinstance(seen, Reading) else []
                if len(found) == len(read):
                    return found
        return found

    assert run_leaping(main, answering(answers, asked)) == read
    again = [question for question in asked if "Fahrenheit" in question.text]
    assert len(again) == len(answers) - len(read)
