"""The swap test: exchange one part of the bench after another, and count what is lost."""

from collections.abc import AsyncIterator, Mapping, Sequence
from contextlib import aclosing
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any, cast

import trio

from soak.derive.events.bouts import Seen
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file, read_any_fixture, read_order
from soak.desk.soaking.standing import Standing, stand_up
from soak.desk.units import open_ledger
from soak.errors import BenchFault, ExitCode, UsageError
from soak.frozen.fixture import Fixture
from soak.instruments import watchers_at
from soak.judge.explain.swapping import CHANNEL, PARTS, Swapped, decide, part_words, too_few
from soak.live.lines import say_line
from soak.records import Role, State
from soak.roles import Question
from soak.run.stand import Stand
from soak.states import (
    UNPLUGGED,
    UNSEEN,
    WENT,
    lost,
    patient_start_limit_s,
    usual_start_s,
    works,
)
from soak.words import Message, Number, Tell, counted, joined, msg, paragraph

_OFF_S = 10.0
"""How long the power is off before a start of the test, s; as the shipped scripts have it."""
_GOES_WITHIN_S = 30.0
"""A picture that is still there so long after the off says that nothing was switched, s."""


@dataclass(frozen=True, slots=True)
class Watch:
    """What is watched, and for how long.

    Attributes
    ----------
    of : str
        A key of `PARTS`.
    source : str
        The instrument that sees it.
    watch_s : float
        Length of a look, s.
    starts : int
        Starts of a look, where starts are watched.
    """

    of: str
    source: str
    watch_s: float
    starts: int

    @property
    def without_power(self) -> bool:
        """Whether parts are exchanged without power: those that carry it are among them."""
        return self.of in ("restarts", "starts")

    def said(self, look: Swapped) -> Message:
        """Say what was seen in a look."""
        if look.starts:
            return msg("{losses} of {starts} starts failed", losses=look.losses, starts=look.starts)
        return counted(
            look.losses,
            "1 loss in {time} s",
            "{count} losses in {time} s",
            time=Number(self.watch_s, ".0f"),
        )


def swap(bench_path: Path, order_text: str, watch_s: float, of: str, starts: int) -> int:
    """Guide the operator through the swaps; say where the fault lies."""
    if not 10 <= watch_s <= 600:
        raise UsageError(
            msg("--seconds {watch_s}: watch for 10 to 600 s each", watch_s=Number(watch_s, "g"))
        )
    if not 2 <= starts <= 50:
        raise UsageError(msg("--starts {starts}: 2 to 50 starts each", starts=starts))
    bench = BenchFolder(bench_path)
    order = read_order(order_text)
    sheet = bench.model_sheet(open_ledger(bench_path).find_unit(order.unit).model)
    fixture = read_any_fixture(fixture_file(bench, order.fixture), sheet)
    watch = Watch(of, _source_for(of, fixture), watch_s, starts)
    looks: list[Swapped] = []

    async def steps(stand: Stand) -> None:
        looks.extend(await swaps(stand, watch, say_line))

    stand_up(Standing(fixture, sheet, bench.reports, say=say_line, verb="soak swap"), steps)
    parts = [part for part in PARTS[of] if part != CHANNEL or fixture.switch is not None]
    say_line(decide(looks, parts))
    return int(ExitCode.DONE)


_SEEN_AT_PORT: Mapping[str, Role] = {"data": "link", "network": "network"}
"""What sees that something goes from a port, by what is watched."""


def _source_for(of: str, fixture: Fixture) -> str:
    """Return the instrument that sees what is watched."""
    if of not in PARTS:
        raise UsageError(msg("--of {of}: one of {parts}", of=of, parts=joined(", ", PARTS)))
    if of in _SEEN_AT_PORT:
        role = _SEEN_AT_PORT[of]
        if role in watchers_at(fixture):
            return role
        raise UsageError(
            msg("{file}: no {role} at a port of the unit is wired", file=fixture.file, role=role)
        )
    if fixture.capture is None:
        raise UsageError(
            msg("{file}: no capture is wired, and it sees the {of}", file=fixture.file, of=of)
        )
    if of == "starts" and fixture.switch is None:
        raise UsageError(
            msg("{file}: no switch is wired, so no start can be tried", file=fixture.file)
        )
    return "capture"


async def swaps(stand: Stand, watch: Watch, say: Tell) -> Sequence[Swapped]:
    """Look at everything as it is, then with one part after another exchanged.

    Without a loss in the first look nothing is exchanged: it could decide nothing.
    """
    await _switch(stand, watch, on=True)
    first = await _look(stand, watch, "")
    if first is None:
        raise BenchFault(watch.source, msg("saw nothing of this unit: is it on, and at this port?"))
    looks = [first]
    parts = [part for part in PARTS[watch.of] if part != CHANNEL]
    say(msg("as it was: {said}", said=watch.said(first)))
    if not first.losses:
        return looks
    if too_few(first, len(parts)):
        say(
            msg(
                "so few that even none with another part may be luck; look longer to be sure "
                "of a cure"
            )
        )
    for part in parts:
        if not await _exchanged(stand, watch, part, is_first=part == parts[0]):
            say(msg("other {part}: not tried", part=part))
            continue
        look = await _look(stand, watch, part)
        if look is None:
            say(msg("other {part}: nothing of the unit was seen, so it does not count", part=part))
            continue
        looks.append(look)
        say(msg("other {part}: {said}", part=part, said=watch.said(look)))
    return looks


async def _exchanged(stand: Stand, watch: Watch, part: str, *, is_first: bool) -> bool:
    """Have a part exchanged, without power where it carries that; tell whether it was."""
    back = None if is_first else msg("Put the part before back.")
    off = None
    if watch.without_power:
        await _switch(stand, watch, on=False)
        off = msg("The power is off.") if stand.power.wired else msg("Take its power away.")
    exchange = msg("Exchange the {part}. Done? (no: there is none)", part=part_words(part))
    text = paragraph(off, back, exchange)
    question = Question(f"swap/{part}", text, "yes/no", wait_s=300.0)
    done = question.agreed(await stand.ask(question))
    if watch.without_power and done:
        await _switch(stand, watch, on=True)
    return done


async def _switch(stand: Stand, watch: Watch, *, on: bool) -> None:
    """Switch for a look or for an exchange; a look at starts switches for itself."""
    if not stand.power.wired or (on and watch.of == "starts"):
        return
    if on:
        await stand.on("swap test")
        await trio.sleep(patient_start_limit_s(stand.model_sheet))
    else:
        await stand.power.set(False, "swap test")


async def _look(stand: Stand, watch: Watch, part: str) -> Swapped | None:
    """Count what is lost for a while; None where nothing was seen that could be lost."""
    if watch.of == "starts":
        failed = [not await _starts(stand) for _ in range(watch.starts)]
        return Swapped(part, sum(failed), 0.0, watch.starts)
    seen = await _states(stand, watch)
    if not works(watch.source).intersection(state.state for state in seen):
        return None
    lost_s = _lost(seen, stand, watch)
    before_s = [max(0.0, t_s - seen[0].t_s) for t_s in lost_s]
    fewest = Seen(before_s, watch.watch_s).fewest()
    return Swapped(part, len(lost_s), watch.watch_s, fewest=fewest)


async def _starts(stand: Stand) -> bool:
    """Switch off and on again; tell whether the picture came."""
    await stand.power.set(False, "swap test")
    if await stand.shows(UNPLUGGED, _GOES_WITHIN_S) is None:
        raise BenchFault(
            "switch", msg("was off, and the unit still showed its picture: no start tried")
        )
    await trio.sleep(_OFF_S)
    await stand.on("swap test")
    return await stand.started() is not None


async def _states(stand: Stand, watch: Watch) -> list[State]:
    seen: list[State] = []
    with trio.move_on_after(watch.watch_s):
        async with aclosing(cast(Any, stand.hub.follow(watch.source))) as records:
            async for record in cast(AsyncIterator[Any], records):
                if isinstance(record, State):
                    seen.append(record)
    return seen


def _lost(seen: Sequence[State], stand: Stand, watch: Watch) -> list[float]:
    """Return when something was lost: what had been there went, whatever it turned into then.

    A restart is a loss that lasts at least half as long as a start (as in `derive.dropouts`).
    """
    sheet = stand.model_sheet
    bad = WENT if watch.of == "restarts" else lost(watch.source, sheet)
    shortest_s = usual_start_s(sheet) / 2 if watch.of == "restarts" else 0.0
    lost_s: list[float] = []
    went_s: float | None = None
    for before, state in pairwise(seen):
        if state.state in bad and before.state not in bad | UNSEEN:
            went_s = state.t_s
            lost_s += [] if shortest_s else [went_s]
        elif went_s is not None and state.state not in bad:
            long = bool(shortest_s) and state.t_s - went_s >= shortest_s
            lost_s += [went_s] if long else []
            went_s = None
    return lost_s
