"""The operator as switch and thermometer."""

from collections.abc import Iterable
from contextlib import aclosing

import pytest
import trio
from bench_tools import nobody, open_driver, run_leaping

from soak.bench.registry import Tools
from soak.errors import BenchFault
from soak.records import BLIND, Reading
from soak.roles import Ask, Question

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
