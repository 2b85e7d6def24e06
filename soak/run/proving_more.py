"""More steps of proving a fixture: the room is one, the load draws, the presser reaches."""

import statistics

import numpy as np
import trio

from soak.derive.electric.load_seen import FALLS_V, lower
from soak.derive.seeing.proved import ROOM_DEGC
from soak.marks import SoftStop, fact_in
from soak.names import source_named
from soak.natures import KINDS, NO_INSTRUMENT, nature_of
from soak.records import Reading
from soak.roles import Stick
from soak.run.stand import Stand, Step
from soak.words import Amount, Number, msg

_READS_WITHIN_S = 60.0
"""A probe has so long for its first reading, s. Our own choice."""
_FEW = 10
"""So many readings before and with a load tell a fall from a meter's noise. Our own choice."""
_SETTLES_S = 1.0
"""So long after the load was switched a meter is read, s. Our own choice: meters average."""
_OFF_WITHIN_S = 10.0
"""The load must be off again within so long, whatever else ends, s. Our own choice."""


async def what_each_is(stand: Stand) -> list[Step]:
    """Name what is no instrument at all: whatever it does then proves nothing."""
    pretended = [(source, nature_of(stand.fixture, source)) for source in stand.fixture.wired]
    return [
        Step(
            msg("what it is"),
            msg("{kinds}, no instrument", kinds=KINDS[nature]),
            "not proved",
            source,
        )
        for source, nature in pretended
        if nature in NO_INSTRUMENT
    ]


async def stick_keeps(stand: Stand) -> list[Step]:
    """Write a block to the stick and read it back from the medium."""
    stick = stand.instruments.stick
    if stick is None:
        return [Step(msg("write to the stick"), msg("no stick is wired"), "not done", "stick")]
    return [await _keeps(stick)]


async def _keeps(stick: Stick) -> Step:
    what = msg("write a block and read it back")
    name = "stick"
    block = bytes(range(256)) * (stick.block_bytes // 256)
    with trio.move_on_after(90.0):
        wrote = await stick.write_at(0, block)
        read = await stick.read_at(0, len(block))
        if wrote.errno or read.errno:
            return Step(
                what,
                msg("system error {number}", number=str(wrote.errno or read.errno)),
                "not proved",
                name,
            )
        if read.data != block:
            return Step(what, msg("it came back changed"), "not proved", name)
        if read.path == "maybe cached":
            return Step(what, msg("read from a cache, not from the stick"), "not proved", name)
        return Step(what, msg("it came back right, read from the medium"), "proved", name)
    return Step(what, msg("no answer within 90 s"), "not proved", name)


async def room(stand: Stand) -> list[Step]:
    """Read the air of the room: it must have the temperature of one."""
    wired = stand.fixture.probes.items()
    names = [f"probe.{name}" for name, one in wired if one.spot == "ambient"]
    return [await _is_a_room(stand, source) for source in names]


async def _is_a_room(stand: Stand, source: str) -> Step:
    what, (low, high) = msg("read the room"), ROOM_DEGC
    with trio.move_on_after(_READS_WITHIN_S):
        async with stand.following(source) as records:
            async for record in records:
                if isinstance(record, Reading):
                    seen = msg("{degc} °C", degc=Number(record.value, ".1f"))
                    if low <= record.value <= high:
                        return Step(what, seen, "proved", source)
                    odd = msg(
                        '{read} is no room; if it prints degF, say instrument_unit = "degF"',
                        read=seen,
                    )
                    return Step(what, odd, "not proved", source)
    return Step(
        what,
        msg("no reading within {reads_within_s} s", reads_within_s=Number(_READS_WITHIN_S, "g")),
        "not proved",
        source,
    )


async def load_draws(stand: Stand) -> list[Step]:
    """Put the load on for a moment: a voltage at one of the unit's ports must fall."""
    load = stand.instruments.load
    what = msg("put the load on")
    if load is None:
        return []
    sources = [
        f"probe.{name}"
        for name, one in stand.fixture.probes.items()
        if one.at_port and one.unit == "V"
    ]
    if not sources:
        return [Step(what, msg("no probe measures the voltage of a port"), "not done", "load")]
    await stand.started()
    before = [await _next_few(stand, source) for source in sources]
    try:
        await load.command(True)
        await trio.sleep(_SETTLES_S)
        after = [await _next_few(stand, source) for source in sources]
    finally:
        with trio.CancelScope(shield=True), trio.move_on_after(_OFF_WITHIN_S):
            await load.command(False)
    read = [probe for probe in zip(sources, before, after, strict=True) if probe[1] and probe[2]]
    if not read:
        return [Step(what, msg("no voltage was read"), "not proved", "load")]
    source, was, now = max(read, key=lambda one: min(one[1]) - max(one[2]))
    middle = statistics.median(was)
    fell = statistics.median(now)
    seen = msg(
        "{source}: {middle} V, with the load {fell} V",
        source=source.removeprefix("probe."),
        middle=Number(middle, ".3f"),
        fell=Number(fell, ".3f"),
    )
    if middle - fell >= FALLS_V and lower(np.array(now), np.array(was)):
        return [Step(what, seen, "proved", "load")]
    return [Step(what, msg("{seen}: is its resistor whole?", seen=seen), "not proved", "load")]


async def _next_few(stand: Stand, source: str) -> list[float]:
    """Return the next few readings; none if they do not come."""
    readings: list[float] = []
    since_s = stand.clock.now_s()
    with trio.move_on_after(_READS_WITHIN_S):
        async with stand.following(source) as records:
            async for record in records:
                if isinstance(record, Reading) and record.t_s >= since_s:
                    readings.append(record.value)
                if len(readings) == _FEW:
                    return readings
    return []


async def pressed_off(stand: Stand) -> list[Step]:
    """Pressed at its button, the unit goes off in order."""
    button = stand.button
    if button is None or not button.stops or not stand.power.wired:
        return []
    await stand.started()
    mark = await button.soft_stop("prove: pressed off")
    stop = fact_in(mark, SoftStop)
    if stop is None:
        return [Step(msg("press it off"), msg("it was not running"), "not proved", "button")]
    by = source_named(stop.by) if stop.by else msg("nothing")
    after = Amount(stop.after_s, "s")
    if stop.ended:
        return [
            Step(
                msg("press it off"),
                msg("off after {after}, seen by {by}", after=after, by=by),
                "proved",
                "button",
            )
        ]
    sentence = msg("still on") if stop.ended is False else msg("nobody could see it go")
    seen = msg(
        "{told} after {after}: does it reach the button, and hold it as long as the model wants?",
        told=sentence,
        after=after,
    )
    return [Step(msg("press it off"), seen, "not proved", "button")]
