"""Who is to blame for a stick that left: told from the USB devices that stayed. No hardware."""

import pytest
import trio
from trio.testing import MockClock

from soak.bench.stick.neighbours import BACK_FOR_S, Neighbours
from soak.bench.usb.device import UsbDevice

# Paths as Linux names them: bus, root port, ports of hubs (Documentation/ABI/stable/sysfs-bus-usb).
ROOTS = ("usb1", "usb2", "usb3")


def computer(*paths):
    """Return devices at these paths, each with a number of its own; port 2 of bus 1 is USB 3."""
    peers = {"1-2": "2-2", "2-2": "1-2"}
    return {
        path: UsbDevice(path, number, 0x1209, number, peer=peers.get(path, ""))
        for number, path in enumerate((*ROOTS, *paths), 1)
    }


class Plugged:
    """What is plugged in; may change while somebody waits."""

    def __init__(self, *paths):
        self.all = self.now = computer(*paths)
        self.reads = 0

    def __call__(self):
        self.reads += 1
        return self.now

    def leaves(self, *paths):
        """Let devices go, with all that hangs on them."""
        self.now = {p: d for p, d in self.now.items() if not any(p.startswith(x) for x in paths)}


def settled(main):
    """Run on a clock that leaps."""
    return trio.run(main, clock=MockClock(autojump_threshold=0))


def blamed(plugged, left, apart=(), stick="1-2.3"):
    """Return what is said once the stick and others have left."""

    async def main():
        beside = Neighbours(apart, trio.current_time, plugged)
        beside.stick_well(stick)
        if left:
            plugged.leaves(*left)
        return await beside.stick_failed()

    return settled(main)


def test_a_stick_that_left_alone_is_charged_to_its_port():
    """Capture card, keyboard and root hubs stayed: nothing speaks against the bench's side."""
    assert blamed(Plugged("1-2", "1-2.3", "1-4", "3-1"), ["1-2.3"]) == ""


def test_a_unit_that_takes_its_hub_along_is_charged():
    """The unit may be the hub between, and on USB 3 that is two hubs: neither is a witness."""
    plugged = Plugged("1-2", "1-2.3", "1-2.4", "2-2", "2-2.1", "3-1")
    assert blamed(plugged, ["1-2", "2-2"]) == ""


@pytest.mark.parametrize("left", [["1-2", "1-4"], ["1-2", "1-4", "3-1"], ["1-", "usb1"]])
def test_others_that_went_in_the_same_moment_speak_of_the_bench(left):
    """One other device, all others, or the root hub itself: the sentence names what went."""
    said = blamed(Plugged("1-2", "1-2.3", "1-4", "3-1"), left)
    assert "1-4" in said
    assert "look at the computer's USB" in said


@pytest.mark.parametrize("name", ["1-4", "1209:0006", "1-4.1"])
def test_devices_set_apart_say_nothing_of_the_bench(name):
    """Another plug of the same unit, named by place or number, may go along; 1-4.1 is another."""
    said = blamed(Plugged("1-2", "1-2.3", "1-4"), ["1-2", "1-4"], apart=[name])
    assert (said == "") == (name != "1-4.1")


def test_a_stick_that_is_plugged_in_and_fails_is_nobody_elses_affair():
    """An unreadable place while a keyboard is being pulled: the stick itself is there."""
    assert blamed(Plugged("1-2", "1-2.3", "1-4"), ["1-4"]) == ""


def test_a_device_that_left_long_before_did_not_leave_with_the_stick():
    """What is there is remembered while the stick is well, once a second."""

    async def main():
        plugged = Plugged("1-2", "1-2.3", "1-4", "3-1")
        beside = Neighbours((), trio.current_time, plugged)
        beside.stick_well("1-2.3")
        plugged.leaves("1-4")
        for _ in range(100):
            await trio.sleep(0.05)
            beside.stick_well("1-2.3")
        assert plugged.reads < 10
        plugged.leaves("1-2.3")
        return await beside.stick_failed()

    assert settled(main) == ""


def test_devices_that_a_host_takes_away_one_after_the_other_are_waited_for():
    """The stick is missed first, the others a moment later: still the bench."""

    async def main():
        plugged = Plugged("1-2", "1-2.3", "1-4")
        beside = Neighbours((), trio.current_time, plugged)
        beside.stick_well("1-2.3")
        plugged.leaves("1-2")
        async with trio.open_nursery() as nursery:

            async def later():
                await trio.sleep(0.1)
                plugged.leaves("1-4")

            nursery.start_soon(later)
            return await beside.stick_failed()

    assert "1-4" in settled(main)


def test_a_stick_that_stays_away_when_the_others_are_back_is_charged_after_all():
    """The bench is at fault until its devices are back; then the stick has ten seconds."""

    async def main():
        plugged = Plugged("1-2", "1-2.3", "1-4")
        beside = Neighbours((), trio.current_time, plugged)
        beside.stick_well("1-2.3")
        plugged.leaves("1-2", "1-4")
        assert await beside.stick_failed()
        await trio.sleep(60)
        assert await beside.stick_failed()
        plugged.now = computer("1-4")
        assert await beside.stick_failed()
        await trio.sleep(BACK_FOR_S)
        assert not await beside.stick_failed()
        plugged.now = plugged.all  # back at last; then it leaves alone
        beside.stick_well("1-2.3")
        plugged.leaves("1-2")
        return await beside.stick_failed()

    assert settled(main) == ""


def test_pulled_later_by_hand_another_device_does_not_excuse_a_stick_that_is_gone():
    """Who is to blame is settled when the stick leaves, not an hour later."""

    async def main():
        plugged = Plugged("1-2", "1-2.3", "1-4")
        beside = Neighbours((), trio.current_time, plugged)
        beside.stick_well("1-2.3")
        plugged.leaves("1-2.3")
        assert not await beside.stick_failed()
        plugged.leaves("1-4")
        return await beside.stick_failed()

    assert settled(main) == ""


def test_where_nothing_is_known_of_usb_the_stick_is_taken_at_its_word():
    """A stick that is not on USB, or a system that lists no devices, excuses nobody."""
    plugged = Plugged("1-2", "1-2.3")
    assert blamed(plugged, [], stick="") == ""
    plugged.now = None
    assert blamed(plugged, [], stick="1-2.3") == ""
