"""Prove that a fixture is wired to this unit and able to see: each step says what was seen.

A bench that is only wired may still be blind: a capture of the neighbour's picture, a probe that
fell off, a stick that is not the one meant. So each instrument must react to what is done to the
unit, and then to breaks made on cue.
"""

from collections.abc import Awaitable, Callable, Collection, Sequence

import trio

from soak.derive.said import state_words
from soak.derive.seeing.proved import WARMS_BY_K, WARMS_WITHIN_S
from soak.errors import BenchFault
from soak.instruments import LOSABLE
from soak.marks import said_by
from soak.names import source_named
from soak.records import Reading, State
from soak.roles import Question
from soak.run.proving_more import load_draws, pressed_off, room, stick_keeps, what_each_is
from soak.run.stand import NotSwitched, Stand, Step
from soak.run.witness import PictureWitness, Witness, hangs_up, other_witnesses
from soak.states import BLIND, GONE_WITHIN_S, SHOWN, UNPLUGGED, WENT, patient_start_limit_s
from soak.words import Amount, Message, Number, joined, just, msg

_SHORT_OFF_S = 0.1
"""So short is the off by which a switch is proved, s. Our own choice: it hurts no unit and any
relay can do it."""
SWITCH_OFF = msg("switch off")
"""The step by which also the switch is proved."""
_HAND_WITHIN_S = 60.0
"""A hand has so long to do what a step asks, s. Our own choice."""
_ON_WITHIN_S = 600.0
"""So long whoever is the switch has to say that the unit is on, s. Our own choice."""


async def prove(stand: Stand, tell: Callable[[Step], None]) -> Sequence[Step]:
    """Do all steps one after another; one that fails does not stop the next.

    None follows where nobody and nothing switched the unit on.
    """
    proved: list[Step] = []
    steps: list[Callable[[Stand], Awaitable[list[Step]]]] = [
        what_each_is,
        _off_and_on,
        stick_keeps,
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
            said = [
                Step(
                    just(source_named(fault.instrument)), fault.what, "not proved", fault.instrument
                )
            ]
            ends = isinstance(fault, NotSwitched)
        for word in said:
            tell(word)
        proved += said
        if ends:
            break
    return proved


async def _off_and_on(stand: Stand) -> list[Step]:
    """Switch off: what is wired to this unit sees it go. Switch on: it comes back."""
    witnesses = _witnesses(stand)
    if not witnesses or not stand.power.wired:
        missing = "capture" if stand.power.wired else "switch"
        return [Step(msg("switch off and on"), none_wired(missing), "not done", missing)]
    limit_s = patient_start_limit_s(stand.model_sheet)
    await stand.on("prove: on")
    there = []
    steps = []
    for witness in witnesses:
        if await witness.sees(True, limit_s) is None:
            seen = msg(
                "no {sign} within {limit_s} of power",
                sign=witness.sign,
                limit_s=Amount(limit_s, "s"),
            )
            said = witness.said if witness.source in LOSABLE else ""
            if said:
                seen = joined(": ", [seen, said])
            steps.append(Step(msg("switch on"), seen, "not proved", witness.source))
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


def none_wired(role: str) -> Message:
    """Say that nothing is wired for a role that a step needs."""
    if role == "switch":
        return msg("no switch is wired")
    return msg("no capture is wired")


async def _each(
    witnesses: Sequence[Witness], watch: Callable[[Witness], Awaitable[Step]]
) -> list[Step]:
    """Watch side by side; return the steps in the order of the witnesses."""
    steps: dict[str, Step] = {}

    async def one(witness: Witness) -> None:
        steps[witness.source] = await watch(witness)

    async with trio.open_nursery() as nursery:
        for witness in witnesses:
            nursery.start_soon(one, witness)
    return [steps[witness.source] for witness in witnesses]


async def _goes(stand: Stand, witness: Witness, all_of: Sequence[Witness], off_s: float) -> Step:
    what = SWITCH_OFF
    gone_s = await witness.sees(False, GONE_WITHIN_S)
    if gone_s is None:
        return Step(what, witness.stays(), "not proved", witness.source)
    seen = msg("{said} after {time}", said=witness.said, time=Amount(max(0.0, gone_s - off_s), "s"))
    if not (witness.source == "link" and hangs_up(stand.fixture)) or len(all_of) > 1:
        return Step(what, seen, "proved", witness.source)
    # A port commanded off hangs up on the bus whether or not its 5 V go.
    seen = msg(
        "{seen}; but a hub hangs up in any case: wire a voltage probe to the port", seen=seen
    )
    if not stand.by_hand:
        return Step(what, seen, "not proved", witness.source)
    lit = msg("Is this unit off now (no lamp, no fan)?")
    ask = Question("prove/dark", lit, "yes/no", wait_s=120.0)
    dark = await stand.ask(ask)
    if dark == "yes":
        return Step(what, msg("off the bus, and you saw it dark"), "proved", witness.source)
    if dark == "no":
        seen = msg("off the bus and still lit: the hub claims to switch this port and does not")
    return Step(what, seen, "not proved", witness.source)


async def _returns(witness: Witness, on_s: float, limit_s: float) -> Step:
    back_s = await witness.sees(True, limit_s)
    if back_s is None:
        return Step(
            msg("switch on"),
            msg("no {sign} came back", sign=witness.sign),
            "not proved",
            witness.source,
        )
    took = Amount(max(0.0, back_s - on_s), "s")
    return Step(
        msg("switch on"),
        msg("{sign} after {took}", sign=witness.sign, took=took),
        "proved",
        witness.source,
    )


def _witnesses(stand: Stand) -> list[Witness]:
    """Return what can see whether this unit has power."""
    witnesses: list[Witness] = []
    if stand.instruments.capture is not None:
        witnesses.append(PictureWitness(stand.hub))
    witnesses += other_witnesses(stand.hub, stand.fixture)
    return witnesses


async def _probes_warm(stand: Stand) -> list[Step]:
    """Each probe at a spot must warm with the unit's power on."""
    spots = {
        f"probe.{name}": wired.spot
        for name, wired in stand.fixture.probes.items()
        if wired.unit == "degC" and wired.spot not in ("", "ambient")
    }
    if not spots:
        return [Step(msg("warm up"), msg("no probe is at a spot of the unit"), "not done", "probe")]
    if not await _has_power(stand):
        unsaid = "nobody said that the unit is on"
        return [Step(msg("warm up"), unsaid, "not done", source) for source in sorted(spots)]
    steps: list[Step] = []

    async def one(source: str, spot: str) -> None:
        steps.append(await _warms(stand, source, spot))

    async with trio.open_nursery() as nursery:
        for source, spot in spots.items():
            nursery.start_soon(one, source, spot)
    return sorted(steps, key=lambda step: step.source)


async def _has_power(stand: Stand) -> bool:
    """See to it that the unit is on; where no switch is wired, only the operator knows."""
    if stand.power.wired:
        if not stand.power.is_on:
            await stand.on("prove: on")
        return True
    text = msg("Is this unit on? Switch it on if it is not, then confirm.")
    question = Question("prove/on", text, "done", wait_s=_ON_WITHIN_S)
    return question.agreed(await stand.ask(question))


async def _warms(stand: Stand, source: str, spot: str) -> Step:
    what = msg("warm up with power on")
    first = None
    with trio.move_on_after(WARMS_WITHIN_S):
        async with stand.following(source) as records:
            async for record in records:
                if isinstance(record, State) and record.state == BLIND:
                    return Step(
                        what, msg("blind: {why}", why=said_by(record).why), "not proved", source
                    )
                if isinstance(record, Reading):
                    first = record if first is None else first
                    rise_k = record.value - first.value
                    if rise_k >= WARMS_BY_K:
                        took = Amount(record.t_s - first.t_s, "s")
                        seen = msg(
                            "{spot}: {from_} to {to} °C in {took}",
                            spot=spot,
                            from_=Number(first.value, ".1f"),
                            to=Number(record.value, ".1f"),
                            took=took,
                        )
                        return Step(what, seen, "proved", source)
    seen = msg(
        "{spot}: did not warm by {warms_by_k} K in {warms_within_s}",
        spot=spot,
        warms_by_k=Number(WARMS_BY_K, "g"),
        warms_within_s=Amount(WARMS_WITHIN_S, "s"),
    )
    return Step(what, msg("{seen}: is it on the unit?", seen=seen), "not proved", source)


async def _short_off(stand: Stand) -> list[Step]:
    """Break the power for 100 ms: what this capture makes of it."""
    what = msg("power off for 100 ms")
    if stand.instruments.capture is None or not stand.power.wired:
        return [Step(what, msg("needs switch and capture"), "not done", "capture", challenge=True)]
    if await stand.started() is None:
        return [Step(what, msg("no picture to break"), "not proved", "capture", challenge=True)]
    off = await stand.power.set(False, "challenge: 100 ms off")
    await trio.sleep(_SHORT_OFF_S)
    on = await stand.power.set(True, "challenge: on again")
    broken = await stand.shows(WENT, GONE_WITHIN_S)
    length_s = on.t_s - off.t_s
    if stand.button is not None:
        await stand.button.wake("challenge: on again")
    if broken is None:
        seen = msg(
            "nothing: the unit rides through {length_s} or the bench missed it",
            length_s=Amount(length_s, "s"),
        )
        return [Step(what, seen, "not proved", "capture", challenge=True)]
    seen = msg(
        "{state}, {time} after the break",
        state=state_words(broken.state),
        time=Amount(max(0.0, broken.t_s - off.t_s), "s"),
    )
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
    ask = msg(
        "When you are ready, pull the VIDEO plug of this unit and put it back within a minute."
    )
    return [await _by_hand(stand, "capture", msg("video plug pulled"), ask=ask, bad=UNPLUGGED)]


async def _stick_plug(stand: Stand) -> list[Step]:
    """Have the operator pull the stick; reading it must fail at once."""
    what = msg("stick pulled")
    challenge = msg("When you are ready, pull THIS stick and put it back.")
    stick = stand.instruments.stick
    if stick is None or not stand.by_hand:
        return [
            Step(what, msg("no stick, or nobody to pull it"), "not done", "stick", challenge=True)
        ]
    question = Question("prove/stick", challenge, "done", wait_s=_HAND_WITHIN_S)
    if not question.agreed(await stand.ask(question)):
        return [Step(what, msg("nobody said that it was"), "not done", "stick", challenge=True)]
    began_s = stand.clock.now_s()
    with trio.move_on_after(_HAND_WITHIN_S):
        while True:
            read = await stick.read_at(0, stick.block_bytes)
            if read.errno is not None:
                seen = msg(
                    "gone, {time} after the cue", time=Amount(stand.clock.now_s() - began_s, "s")
                )
                return [
                    Step(
                        what, seen, "proved", source="stick", smallest_s=read.took_s, challenge=True
                    )
                ]
            await trio.sleep(0.2)
    return [
        Step(what, msg("it went on reading: another stick?"), "not proved", "stick", challenge=True)
    ]


async def _by_hand(
    stand: Stand, source: str, what: Message, ask: Message, bad: Collection[str]
) -> Step:
    if not stand.by_hand or stand.instruments.capture is None:
        return Step(what, msg("nobody to do it"), "not done", source, challenge=True)
    if await stand.started() is None:
        return Step(what, msg("no picture to lose"), "not proved", source, challenge=True)
    question = Question(f"prove/{source}", ask, "done", wait_s=_HAND_WITHIN_S)
    done, broken, back = await _lost_meanwhile(stand, question, bad)
    if not done and broken is None:
        return Step(what, msg("nobody said that it was"), "not done", source, challenge=True)
    if broken is None:
        return Step(
            what, msg("nothing was seen: another unit?"), "not proved", source, challenge=True
        )
    length_s = None if back is None else back.t_s - broken.t_s
    seen = just(state_words(broken.state))
    if length_s is not None:
        seen = msg(
            "{state} for {time}", state=state_words(broken.state), time=Amount(length_s, "s")
        )
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
        broken = next((state for state in seen if state.state in bad), None)
        after = seen[seen.index(broken) :] if broken is not None else []
        return broken, next((state for state in after if state.state in SHOWN), None)

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
