"""When the guard is dead: the runner takes the port itself, switches off, and leaves it nominal."""

from collections.abc import Callable
from contextlib import suppress

import trio

from soak.bench.registry import Tools, driver_of
from soak.bench.wiring import SwitchWired
from soak.errors import BenchFault
from soak.roles import Supply
from soak.run.guard.supply import not_nominal, plainly

_RETRY_S = (0.1, 0.2, 0.5, 1.0, 2.0)
_CLOSING_S = 5.0


async def take_over(wired: SwitchWired, tools: Tools, unanswered: Callable[[str], None]) -> str:
    """Open the switch and command off, again and again until it has answered.

    A supply that sets its voltage is returned to nominal then; where it does not go there, what a
    person must do is returned.

    The port is given back each time: another runner may have a unit on another channel of it.

    Parameters
    ----------
    unanswered : callable
        Told once, with the reason, when the first attempts have failed.
    """
    failures = 0
    while True:
        try:
            return await _off_once(wired, tools)
        except Exception as fault:  # whatever a driver does: nobody else is left to switch off
            failures += 1
            if failures == len(_RETRY_S):
                unanswered(fault.what if isinstance(fault, BenchFault) else repr(fault))
        await trio.sleep(_RETRY_S[min(failures, len(_RETRY_S)) - 1])


async def _off_once(wired: SwitchWired, tools: Tools) -> str:
    switch = await driver_of("switch", wired.driver).open("switch", wired, tools)
    try:
        await switch.command(wired.channel, False)  # type: ignore[attr-defined]  # role switch
        if isinstance(switch, Supply):
            try:
                await plainly(switch.set_voltage, wired.channel, switch.nominal_v)
            except BenchFault as fault:
                return not_nominal(fault.what)
        return ""
    finally:
        with trio.move_on_after(_CLOSING_S, shield=True), suppress(Exception):
            await switch.aclose()
