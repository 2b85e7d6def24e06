"""Two more steps of proving a fixture: the room is a room, and the button's presser reaches it."""

import trio

from soak.derive.proved import ROOM_DEGC
from soak.instruments import wired
from soak.natures import KINDS, NO_INSTRUMENT, nature_of
from soak.quantities import show_duration
from soak.records import Reading
from soak.run.stand import Stand, Step

_READS_WITHIN_S = 60.0


async def what_each_is(stand: Stand) -> list[Step]:
    """Name what is no instrument at all: whatever it does then proves nothing."""
    entries = wired(stand.fixture).items()
    pretended = [(source, nature_of(one)) for source, one in entries]
    return [
        Step("what it is", f"{KINDS[nature]}, no instrument", "not proved", source)
        for source, nature in pretended
        if nature in NO_INSTRUMENT
    ]


async def room(stand: Stand) -> list[Step]:
    """Read the air of the room: it must have the temperature of one."""
    wired = stand.fixture.get("probe", {}).items()
    names = [f"probe.{name}" for name, one in wired if one.get("spot") == "ambient"]
    return [await _is_a_room(stand, source) for source in names]


async def _is_a_room(stand: Stand, source: str) -> Step:
    what, (low, high) = "read the room", ROOM_DEGC
    with trio.move_on_after(_READS_WITHIN_S):
        async with stand.following(source) as records:
            async for record in records:
                if isinstance(record, Reading):
                    seen = f"{record.value:.1f} °C"
                    if low <= record.value <= high:
                        return Step(what, seen, "proved", source)
                    seen += ' is no room; if it prints degF, say instrument_unit = "degF"'
                    return Step(what, seen, "not proved", source)
    return Step(what, f"no reading within {_READS_WITHIN_S:g} s", "not proved", source)


async def pressed_off(stand: Stand) -> list[Step]:
    """Pressed at its button, the unit goes off in order."""
    button = stand.button
    if button is None or not button.stops or not stand.power.wired:
        return []
    await stand.started()
    mark = await button.soft_stop("prove: pressed off")
    if mark is None:
        return [Step("press it off", "it was not running", "not proved", "button")]
    by, after = mark.detail["by"] or "nothing", show_duration(mark.detail["after_s"])
    if mark.detail["ended"]:
        return [Step("press it off", f"off after {after}, seen by {by}", "proved", "button")]
    told = "still on" if mark.detail["ended"] is False else "nobody could see it go"
    seen = (
        f"{told} after {after}: does it reach the button, and hold it as long as the model wants?"
    )
    return [Step("press it off", seen, "not proved", "button")]
