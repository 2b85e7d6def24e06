"""Prove that a fixture is wired to this unit and able to see: each step says what was seen.

A bench that is only wired may still be blind: a capture of the neighbour's picture, a probe that
fell off, a stick that is not the one meant. So each instrument must react to what is done to the
unit, and then to breaks made on cue.
"""

from collections.abc import Awaitable, Callable, Collection, Sequence

import trio

from soak.derive.seeing.proved import WARMS_BY_K, WARMS_WITHIN_S
from soak.errors import BenchFault
from soak.instruments import LOSABLE
from soak.marks import said_by
from soak.quantities import show_duration
from soak.records import Reading, State
from soak.roles import Question, Stick
from soak.run.proving_more import load_draws, pressed_off, room, what_each_is
from soak.run.stand import NotSwitched, Stand, Step
from soak.run.witness import PictureWitness, Witness, hangs_up, other_witnesses
from soak.states import BLIND, GONE_WITHIN_S, SHOWN, UNPLUGGED, WENT, patient_start_limit_s

_SHORT_OFF_S = 0.1
"""So short is the off by which a switch is proved, s. Our own choice: it hurts no unit and any
relay can do it."""
SWITCH_OFF = "switch off"
"""The step by which also the switch is proved."""
_HAND_WITHIN_S = 60.0
"""A hand has so long to do what a step asks, s. Our own choice."""
_ON_WITHIN_S = 600.0
"""So long whoever is the switch has to say that the unit is on, s. Our own choice."""


async def prove(stand: Stand, tell: Callable[[Step], None]) -> Sequence[Step]:
    """Do all steps one after another; one that fails does not stop the next.

    None follows where nobody and nothing switched the unit on.
    """
    found: list[Step] = []
    steps: list[Callable[[Stand], Awaitable[list[Step]]]] = [
        what_each_is,
        _off_and_on,
        _stick_keeps,
        room,
        _probes_warm,
        load_draws,
        _short_off,
        _picture_plug,
        _stick_plug,
        pressed_off,
    ]
    for step in steps:
        ends = False
        try:
            said = await step(stand)
        except BenchFault as fault:
            said = [Step(fault.instrument, fault.what, "not proved", fault.instrument)]
            ends = isinstance(fault, NotSwitched)
        for one in said:
            tell(one)
        found += said
        if ends:
            break
    return found


async def _off_and_on(stand: Stand) -> list[Step]:
    """Switch off: what is wired to this unit sees it go. Switch on: it comes back."""
    witnesses = _witnesses(stand)
    if not witnesses or not stand.power.wired:
        missing = "capture" if stand.power.wired else "switch"
        return [Step("switch off and on", f"no {missing} is wired", "not done", missing)]
    limit_s = patient_start_limit_s(stand.model_sheet)
    await stand.on("prove: on")
    there = []
    steps = []
    for witness in witnesses:
        if await witness.sees(True, limit_s) is None:
            seen = f"no {witness.sign} within {show_duration(limit_s)} of power"
            said = witness.said if witness.source in LOSABLE else ""
            seen += f": {said}" if said else ""
            steps.append(Step("switch on", seen, "not proved", witness.source))
        else:
            there.append(witness)
    if not there:
        return steps
    off = await stand.power.set(False, "prove: off")
    steps += await _each(there, lambda witness: _goes(stand, witness, there, off.t_s))
    if any(step.result == "not proved" for step in steps):
        return steps
    await trio.sleep(10.0)
    on = await stand.on("prove: on again")
    return steps + await _each(there, lambda witness: _returns(witness, on.t_s, limit_s))


async def _each(
    witnesses: Sequence[Witness], watch: Callable[[Witness], Awaitable[Step]]
) -> list[Step]:
    """Watch side by side; return the steps in the order of the witnesses."""
    found: dict[str, Step] = {}

    async def one(witness: Witness) -> None:
        found[witness.source] = await watch(witness)

    async with trio.open_nursery() as nursery:
        for witness in witnesses:
            nursery.start_soon(one, witness)
    return [found[witness.source] for witness in witnesses]


async def _goes(stand: Stand, witness: Witness, all_of: Sequence[Witness], off_s: float) -> Step:
    what = SWITCH_OFF
    gone_s = await witness.sees(False, GONE_WITHIN_S)
    if gone_s is None:
        return Step(what, witness.stays(), "not proved", witness.source)
    seen = f"{witness.said} after {show_duration(max(0.0, gone_s - off_s))}"
    if not (witness.source == "link" and hangs_up(stand.fixture)) or len(all_of) > 1:
        return Step(what, seen, "proved", witness.source)
    # A port commanded off hangs up on the bus whether or not its 5 V go.
    seen += "; but a hub hangs up in any case: wire a voltage probe to the port"
    if not stand.by_hand:
        return Step(what, seen, "not proved", witness.source)
    ask = Question("prove/dark", "Is this unit off now (no lamp, no fan)?", "yes/no", wait_s=120.0)
    dark = await stand.ask(ask)
    if dark == "yes":
        return Step(what, "off the bus, and you saw it dark", "proved", witness.source)
    if dark == "no":
        seen = "off the bus and still lit: the hub claims to switch this port and does not"
    return Step(what, seen, "not proved", witness.source)


async def _returns(witness: Witness, on_s: float, limit_s: float) -> Step:
    back_s = await witness.sees(True, limit_s)
    if back_s is None:
        return Step("switch on", f"no {witness.sign} came back", "not proved", witness.source)
    took = show_duration(max(0.0, back_s - on_s))
    return Step("switch on", f"{witness.sign} after {took}", "proved", witness.source)


def _witnesses(stand: Stand) -> list[Witness]:
    """Return what can see whether this unit has power."""
    found: list[Witness] = []
    if stand.instruments.capture is not None:
        found.append(PictureWitness(stand.hub))
    found += other_witnesses(stand.hub, stand.fixture)
    return found


async def _stick_keeps(stand: Stand) -> list[Step]:
    """Write a block to the stick and read it back from the medium."""
    stick = stand.instruments.stick
    if stick is None:
        return [Step("write to the stick", "no stick is wired", "not done", "stick")]
    return [await _keeps(stick)]


async def _keeps(stick: Stick) -> Step:
    what = "write a block and read it back"
    name = "stick"
    block = bytes(range(256)) * (stick.block_bytes // 256)
    with trio.move_on_after(90.0):
        wrote = await stick.write_at(0, block)
        read = await stick.read_at(0, len(block))
        if wrote.errno or read.errno:
            return Step(what, f"system error {wrote.errno or read.errno}", "not proved", name)
        if read.data != block:
            return Step(what, "it came back changed", "not proved", name)
        if read.path == "maybe cached":
            return Step(what, "read from a cache, not from the stick", "not proved", name)
        return Step(what, "it came back right, read from the medium", "proved", name)
    return Step(what, "no answer within 90 s", "not proved", name)


async def _probes_warm(stand: Stand) -> list[Step]:
    """Each probe at a spot must warm with the unit's power on."""
    spots = {
        f"probe.{name}": wired.spot
        for name, wired in stand.fixture.probes.items()
        if wired.unit == "degC" and wired.spot not in ("", "ambient")
    }
    if not spots:
        return [Step("warm up", "no probe is at a spot of the unit", "not done", "probe")]
    if not await _has_power(stand):
        unsaid = "nobody said that the unit is on"
        return [Step("warm up", unsaid, "not done", source) for source in sorted(spots)]
    found: list[Step] = []

    async def one(source: str, spot: str) -> None:
        found.append(await _warms(stand, source, spot))

    async with trio.open_nursery() as nursery:
        for source, spot in spots.items():
            nursery.start_soon(one, source, spot)
    return sorted(found, key=lambda step: step.source)


async def _has_power(stand: Stand) -> bool:
    """See to it that the unit is on; where no switch is wired, only the operator knows."""
    if stand.power.wired:
        if not stand.power.is_on:
            await stand.on("prove: on")
        return True
    text = "Is this unit on? Switch it on if it is not, then confirm."
    question = Question("prove/on", text, "done", wait_s=_ON_WITHIN_S)
    return question.agreed(await stand.ask(question))


async def _warms(stand: Stand, source: str, spot: str) -> Step:
    what = "warm up with power on"
    first = None
    with trio.move_on_after(WARMS_WITHIN_S):
        async with stand.following(source) as records:
            async for record in records:
                if isinstance(record, State) and record.state == BLIND:
                    return Step(what, f"blind: {said_by(record).why}", "not proved", source)
                if isinstance(record, Reading):
                    first = record if first is None else first
                    rise_k = record.value - first.value
                    if rise_k >= WARMS_BY_K:
                        took = show_duration(record.t_s - first.t_s)
                        seen = f"{spot}: {first.value:.1f} to {record.value:.1f} °C in {took}"
                        return Step(what, seen, "proved", source)
    seen = f"{spot}: did not warm by {WARMS_BY_K:g} K in {show_duration(WARMS_WITHIN_S)}"
    return Step(what, f"{seen}: is it on the unit?", "not proved", source)


async def _short_off(stand: Stand) -> list[Step]:
    """Break the power for 100 ms: what this capture makes of it."""
    what = "power off for 100 ms"
    if stand.instruments.capture is None or not stand.power.wired:
        return [Step(what, "needs switch and capture", "not done", "capture", challenge=True)]
    if await stand.started() is None:
        return [Step(what, "no picture to break", "not proved", "capture", challenge=True)]
    off = await stand.power.set(False, "challenge: 100 ms off")
    await trio.sleep(_SHORT_OFF_S)
    on = await stand.power.set(True, "challenge: on again")
    broken = await stand.shows(WENT, GONE_WITHIN_S)
    length_s = on.t_s - off.t_s
    if stand.button is not None:
        await stand.button.wake("challenge: on again")
    if broken is None:
        seen = f"nothing: the unit rides through {show_duration(length_s)} or the bench missed it"
        return [Step(what, seen, "not proved", "capture", challenge=True)]
    seen = f"{broken.state}, {show_duration(max(0.0, broken.t_s - off.t_s))} after the break"
    return [
        Step(
            what,
            seen,
            "proved",
            source="capture",
            smallest_s=_smallest(broken, length_s),
            challenge=True,
        )
    ]


async def _picture_plug(stand: Stand) -> list[Step]:
    """Have the operator pull the video plug; it must be seen."""
    ask = "When you are ready, pull the VIDEO plug of this unit and put it back within a minute."
    return [await _by_hand(stand, "capture", "video plug pulled", ask=ask, bad=UNPLUGGED)]


async def _stick_plug(stand: Stand) -> list[Step]:
    """Have the operator pull the stick; reading it must fail at once."""
    what = "stick pulled"
    challenge = "When you are ready, pull THIS stick and put it back."
    stick = stand.instruments.stick
    if stick is None or not stand.by_hand:
        return [Step(what, "no stick, or nobody to pull it", "not done", "stick", challenge=True)]
    question = Question("prove/stick", challenge, "done", wait_s=_HAND_WITHIN_S)
    if not question.agreed(await stand.ask(question)):
        return [Step(what, "nobody said that it was", "not done", "stick", challenge=True)]
    began_s = stand.clock.now_s()
    with trio.move_on_after(_HAND_WITHIN_S):
        while True:
            read = await stick.read_at(0, stick.block_bytes)
            if read.errno is not None:
                seen = f"gone, {show_duration(stand.clock.now_s() - began_s)} after the cue"
                return [
                    Step(
                        what, seen, "proved", source="stick", smallest_s=read.took_s, challenge=True
                    )
                ]
            await trio.sleep(0.2)
    return [Step(what, "it went on reading: another stick?", "not proved", "stick", challenge=True)]


async def _by_hand(stand: Stand, source: str, what: str, ask: str, bad: Collection[str]) -> Step:
    if not stand.by_hand or stand.instruments.capture is None:
        return Step(what, "nobody to do it", "not done", source, challenge=True)
    if await stand.started() is None:
        return Step(what, "no picture to lose", "not proved", source, challenge=True)
    question = Question(f"prove/{source}", ask, "done", wait_s=_HAND_WITHIN_S)
    done, broken, back = await _lost_meanwhile(stand, question, bad)
    if not done and broken is None:
        return Step(what, "nobody said that it was", "not done", source, challenge=True)
    if broken is None:
        return Step(what, "nothing was seen: another unit?", "not proved", source, challenge=True)
    length_s = None if back is None else back.t_s - broken.t_s
    seen = f"{broken.state}" + ("" if length_s is None else f" for {show_duration(length_s)}")
    return Step(
        what, seen, "proved", source=source, smallest_s=_smallest(broken, length_s), challenge=True
    )


async def _lost_meanwhile(
    stand: Stand, question: Question, bad: Collection[str]
) -> tuple[bool, State | None, State | None]:
    """Return whether it was said to be done, the first loss since, and the picture after it."""
    asked_s = stand.clock.now_s()
    seen = list[State]()
    waiting = list[trio.Event]()

    async def collect() -> None:
        async with stand.following("capture") as records:
            async for record in records:
                if isinstance(record, State) and record.t_s > asked_s:
                    seen.append(record)
                    for event in waiting:
                        event.set()

    def found() -> tuple[State | None, State | None]:
        broken = next((one for one in seen if one.state in bad), None)
        after = seen[seen.index(broken) :] if broken is not None else []
        return broken, next((one for one in after if one.state in SHOWN), None)

    async with trio.open_nursery() as nursery:
        nursery.start_soon(collect)
        done = question.agreed(await stand.ask(question))
        with trio.move_on_after(_HAND_WITHIN_S):
            while done and found()[1] is None:
                came = trio.Event()
                waiting.append(came)
                await came.wait()
        nursery.cancel_scope.cancel()
    return (done, *found())


def _smallest(broken: State, length_s: float | None) -> float | None:
    """Return the shortest break this capture can see: its picture period, as the break showed."""
    return round(broken.within_s, 4) if broken.within_s > 0 else length_s
