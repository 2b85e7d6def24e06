"""Open the instruments of a soak: the switch and what guards through the guard's process."""

import sys
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import trio

from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Drivers, Tools, open_instruments
from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen.fixture import Fixture
from soak.frozen.wiring import SwitchWired
from soak.instruments import Instruments
from soak.records import Json
from soak.run.asking import Asking
from soak.run.guard.guard import Guard
from soak.run.guard.link import take_over
from soak.run.guard.owned import as_order, owned, without
from soak.run.guard.step import Guarding
from soak.run.guard.wire import as_fault
from soak.words import Message, Number, Tell, msg

if TYPE_CHECKING:
    from soak.run.guard.link import ProcessGuard
    from soak.run.guard.wire import Line

HAS_PROCESS = sys.platform != "win32"
"""Local sockets with a folder's permissions, and locks that die with their process."""

_GREETED_WITHIN_S = 3.0
"""A guard that says nothing for so long, and gets no time of a processor either, hangs."""
_MOST_PATIENCE = 20
_ATTACHED_WITHIN_S = 90.0
_LOOK_EVERY_S = 0.05
_TOLD_AFTER_S = 10.0


@dataclass(frozen=True, slots=True)
class Guarded:
    """What the guard is told of a soak.

    Attributes
    ----------
    bench : Path
        The folder of the bench's soaks: one guard serves it.
    folder : Path
        The soak's own folder, for the guard's log.
    say : callable
        Prints a line for the operator.
    """

    soak_id: str
    bench: Path
    folder: Path
    guarding: Mapping[str, Guarding]
    say: Tell = lambda _: None


@dataclass(frozen=True, slots=True)
class Opened:
    """A fixture with everything open.

    Attributes
    ----------
    fixture : Json
        What is wired, with identities, as a header holds it.
    guard : Guard or None
        None where it lives in the runner's own loop.
    """

    instruments: Instruments
    fixture: Fixture
    guard: Guard | None


@asynccontextmanager
async def opened(
    fixture: Fixture, extra: Drivers, guarded: Guarded, asking: Asking, clock: SoakClock
) -> AsyncIterator[Opened]:
    """Open all that is wired to a unit: the one way, whatever is then done with it.

    Parameters
    ----------
    extra : Drivers
        Drivers besides the real ones: the simulated ones.
    asking : Asking
        Asks what they want to know while they are opened.

    Raises
    ------
    BenchFault
        If an instrument does not open, or the guard cannot be started.
    """
    tools = Tools(off_loop_for(clock), asking, clock)
    async with _guarded(fixture, tools, extra, guarded) as (instruments, guard):
        yield Opened(instruments, fixture.opened(instruments.identities()), guard)


@asynccontextmanager
async def _guarded(
    fixture: Fixture, tools: Tools, extra: Drivers, guarded: Guarded
) -> AsyncIterator[tuple[Instruments, Guard | None]]:
    """Open switch and guarding probes through the guard's process, and the rest here.

    In simulated time, where the operator is the switch, and on a system without local sockets all
    is opened here, and the guard lives in the runner's own loop.
    """
    mine = owned(fixture)
    if tools.clock.leaping or not mine or not HAS_PROCESS:
        async with open_instruments(fixture, tools, extra) as instruments:
            yield instruments, None
        return
    guard = await _attached(fixture, tools, guarded)
    try:
        async with open_instruments(without(fixture, mine), tools, extra) as rest:
            probes = {**rest.probes, **guard.probes}
            yield replace(rest, switch=guard.switch, probes=probes), guard
    finally:
        with trio.CancelScope(shield=True):
            await guard.aclose()


async def _attached(fixture: Fixture, tools: Tools, guarded: Guarded) -> "ProcessGuard":
    from soak.run.guard.link import ProcessGuard, attach_message
    from soak.run.guard.place import guard_folder
    from soak.run.guard.process import last_words
    from soak.run.guard.start import cannot_start
    from soak.run.guard.wire import OtherEndGone

    wired = fixture.switch
    assert wired is not None
    place = guard_folder(guarded.bench)
    line = await _joined(place, guarded.say)
    order = as_order(fixture, owned(fixture))
    about = (guarded.soak_id, wired.channel, wired.beat_within_s, guarded.guarding)
    try:
        with trio.fail_after(_ATTACHED_WITHIN_S):
            await line.send(attach_message(*about, order, tools.clock))
            answer = await line.hear()
            while answer["said"] == "beat":
                answer = await line.hear()
        if answer["said"] != "attached":
            raise as_fault(answer)
    except trio.TooSlowError:
        await line.aclose()
        what = msg(
            "did not open the instruments within {time} s; nothing was switched on",
            time=Number(_ATTACHED_WITHIN_S, "g"),
        )
        raise BenchFault("guard", what) from None
    except OtherEndGone:
        await line.aclose()
        raise cannot_start(last_words(place) or msg("it ended")) from None
    except BaseException:
        await line.aclose()
        raise
    off = _off_without(wired, tools, place)
    args = (guarded.folder, guarded.guarding, tools.clock, off)
    return ProcessGuard(line, answer["identity"], *args, answer.get("found_on"))


async def _joined(place: Path, say: Tell) -> "Line":
    """Join the guard of this bench, starting it where there is none, ending it where it hangs."""
    from soak.run.guard.place import SOCKET
    from soak.run.guard.process import kill_hung
    from soak.run.guard.start import Starting
    from soak.run.guard.wire import WIRE_FORMAT, Line

    starting = Starting(place)
    said = False
    while True:
        try:
            line = Line(await trio.open_unix_socket(str(place / SOCKET)))
        except OSError:
            starting.go_on()
            if starting.lasts_s > _TOLD_AFTER_S and not said:
                say(msg("the guard is still starting: this computer is busy"))
                said = True
            await trio.sleep(_LOOK_EVERY_S)
            continue
        hello = await _hello(line, place)
        if hello is not None and hello.get("format") == WIRE_FORMAT:
            return line
        await line.aclose()
        if hello is None and not await trio.to_thread.run_sync(kill_hung, place):
            raise BenchFault("guard", msg("hangs and cannot be ended; restart the computer"))
        if hello:
            raise BenchFault("guard", msg("is of another version; end its soaks first"))


async def _hello(line: "Line", place: Path) -> Json | None:
    """Return what the guard says first; nothing where it has just ended, None where it hangs."""
    from soak.run.guard.process import holder
    from soak.run.guard.start import Progress
    from soak.run.guard.wire import OtherEndGone

    progress = Progress()
    for _ in range(_MOST_PATIENCE):
        progress.seen(holder(place))
        with suppress(OtherEndGone), trio.move_on_after(_GREETED_WITHIN_S) as greeting:
            return await line.hear()
        if not greeting.cancelled_caught:
            return {}
        if not progress.seen(holder(place)):
            break
    return None


def _off_without(
    wired: SwitchWired, tools: Tools, place: Path
) -> Callable[[bool, Callable[[Message], None]], Awaitable[Message]]:
    from soak.run.guard.process import kill_hung

    async def off(hung: bool, unanswered: Callable[[Message], None]) -> Message:
        if hung:
            await trio.to_thread.run_sync(kill_hung, place)
        return await take_over(wired, tools, unanswered)

    return off
