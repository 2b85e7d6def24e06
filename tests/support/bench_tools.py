"""Tools for opening drivers in tests: real threads and real time, or leaping time."""

from collections.abc import Awaitable, Callable, Mapping
from typing import Any, TypeVar

import trio
from patience import LIMIT_S

from soak.bench.off_loop import off_loop_for
from soak.bench.registry import ROLE_SETTINGS, Tools, drivers
from soak.clock import BootClock, LeapingClock, SoakClock
from soak.frozen.wiring import Wired
from soak.roles import Ask, Question

T = TypeVar("T")


async def nobody(question: Question) -> str | float | None:
    """Let the operator be away: time passes, no answer comes."""
    await trio.sleep(question.wait_s)
    return None


def tools(clock: SoakClock, ask: Ask = nobody) -> Tools:
    """Make the tools that fit the clock."""
    return Tools(off_loop_for(clock), ask, clock)


def run_real(main: Callable[[Tools], Awaitable[T]], ask: Ask = nobody) -> T:
    """Run `main(tools)` in real time."""
    clock = BootClock()

    async def limited() -> T:
        with trio.fail_after(LIMIT_S):
            return await main(tools(clock, ask))

    return trio.run(limited, clock=clock)


def run_leaping(main: Callable[[Tools], Awaitable[T]], ask: Ask = nobody) -> T:
    """Run `main(tools)` in leaping time."""
    clock = LeapingClock()

    async def whole() -> T:
        return await main(tools(clock, ask))

    return trio.run(whole, clock=clock)


def wired(role: Any, settings: Mapping[str, Any]) -> Wired:
    """Check settings as a fixture's entry would be."""
    found = drivers()[role, settings["driver"]]
    assert issubclass(found.settings, ROLE_SETTINGS[found.role])
    return found.settings.model_validate(dict(settings))


async def open_driver(name: str, role: Any, settings: Mapping[str, Any], given: Tools) -> Any:
    """Open an instrument by its driver."""
    return await drivers()[role, settings["driver"]].open(name, wired(role, settings), given)
