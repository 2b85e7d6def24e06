"""Proving off on a hub that claims to switch its ports: what a bench must not be fooled by."""

from types import SimpleNamespace

import trio
from headers import bare_header, fixture_of, sheet_of

from soak.clock import LeapingClock
from soak.instruments import Instruments
from soak.journal import MemoryJournal
from soak.records import Mark, Reading, State
from soak.run.hub import Hub
from soak.run.plan import wired_quantities
from soak.run.proving import prove
from soak.run.stand import Stand, Step

CLAIMS = {"driver": "hub_port", "channel": "3", "identity": {"hangs_up_on_the_bus": True}}
RELAY = {"driver": "serial_text", "channel": "1", "identity": {}}
LINK = {"driver": "usb_link", "port": "usb1"}
PROBE = {"usb5v": {"driver": "x", "unit": "V", "spot": "", "at_port": "usb1"}}


def proved(fixture: dict, *, switches: bool, says: str | None = None) -> dict[str, Step]:
    """Switch a port that hangs up on the bus in any case; return the steps of the off, by source.

    Parameters
    ----------
    switches : bool
        Whether its 5 V go too.
    says : str or None
        What the operator answers; None: nobody is there.
    """
    clock, steps = LeapingClock(), []

    async def main() -> None:
        wired = fixture_of(fixture)
        header = bare_header(fixture=wired, quantities=(*wired_quantities(wired).values(),))
        hub = Hub(MemoryJournal(header, clock=clock), lambda _: None)
        volt = [5.0]

        async def meter() -> None:
            while True:
                hub.publish(Reading(clock.now_s(), "probe.usb5v", volt[0]))
                await trio.sleep(1.0)

        async def command(on: bool, why: str = "") -> Mark:
            await trio.sleep(0.1)
            hub.publish(State(clock.now_s(), "link", "seen" if on else "gone"))
            volt[0] = 5.0 if on or not switches else 0.02
            return Mark(clock.now_s(), "power", detail={"on": on})

        async def ask(question: object) -> str | None:
            return says

        power = SimpleNamespace(wired=True, set=command)
        sheet = sheet_of({"start_s": 2.0})
        stand = Stand(Instruments(), wired, sheet, hub, power, ask, clock, says is not None)
        async with trio.open_nursery() as nursery:
            if "probe" in fixture:
                nursery.start_soon(meter)
            found: list[Step] = []
            await prove(stand, found.append)
            steps.extend(found)
            nursery.cancel_scope.cancel()

    trio.run(main, clock=clock)
    return {step.source: step for step in steps if step.what == "switch off"}


def test_a_hub_that_claims_and_does_not_switch_is_found_by_the_ports_voltage():
    """The device leaves the bus and the 5 V stay."""
    off = proved({"switch": CLAIMS, "link": LINK, "probe": PROBE}, switches=False)
    assert off["probe.usb5v"].result == "not proved"
    assert "5.00 V: the hub claims to switch this port and does not" in off["probe.usb5v"].seen


def test_a_hub_that_does_switch_is_proved_by_the_ports_voltage():
    """Both see it: the 5 V go, and the device with them."""
    off = proved({"switch": CLAIMS, "link": LINK, "probe": PROBE}, switches=True)
    assert {step.result for step in off.values()} == {"proved"}


def test_a_device_that_leaves_the_bus_alone_proves_no_hub():
    """A port commanded off hangs up whether or not its 5 V go: say what to wire."""
    off = proved({"switch": CLAIMS, "link": LINK}, switches=True)
    assert off["link"].result == "not proved"
    assert "wire a voltage probe to the port" in off["link"].seen


def test_the_operators_eyes_settle_it():
    """A lamp that stays lit: the hub does not switch. Dark: it does."""
    fixture = {"switch": CLAIMS, "link": LINK}
    assert proved(fixture, switches=True, says="yes")["link"].result == "proved"
    lit = proved(fixture, switches=False, says="no")["link"]
    assert lit.result == "not proved"
    assert "claims to switch this port and does not" in lit.seen


def test_a_relay_is_proved_by_the_device_that_leaves():
    """A relay in the supply lead has no bus to hang up on."""
    assert proved({"switch": RELAY, "link": LINK}, switches=True)["link"].result == "proved"


def test_a_device_that_is_not_there_is_named_with_what_is():
    """The link's own sentence says what it looked for and what there is instead."""
    clock, found = LeapingClock(), []

    async def main() -> None:
        wired = fixture_of({"switch": RELAY, "link": LINK})
        header = bare_header(fixture=wired, quantities=(*wired_quantities(wired).values(),))
        hub = Hub(MemoryJournal(header, clock=clock), lambda _: None)
        why = "there is no USB device 1209:0002 on this host; there are 1209:0003"
        hub.publish(State(0.0, "link", "gone", detail={"why": why}))

        async def command(on: bool, why: str = "") -> Mark:
            return Mark(clock.now_s(), "power", detail={"on": on})

        async def ask(question: object) -> None:
            return None

        power = SimpleNamespace(wired=True, set=command)
        stand = Stand(
            Instruments(), wired, sheet_of({"start_s": 2.0}), hub, power, ask, clock, False
        )
        await prove(stand, found.append)

    trio.run(main, clock=clock)
    first = next(step for step in found if step.source == "link")
    assert first.result == "not proved"
    assert "no USB device 1209:0002 on this host; there are 1209:0003" in first.seen
