"""The stood-in link: what it says from one status after another, and a stick played right here."""

from contextlib import aclosing
from dataclasses import replace

import pytest
import trio
from fake_gadgets import FakeKernel
from patience import LIMIT_S

from soak.bench.off_loop import ThreadOffLoop
from soak.bench.stand_in.client import Unreached
from soak.bench.stand_in.gadget_watch import Status
from soak.bench.stand_in.local import LocalStand
from soak.bench.stand_in.story import MOVED_EVERY_S, SPEED_EVERY_S, LinkStory
from soak.clock import BootClock
from soak.records import Reading, State

GONE = Status("gone", "not attached", None, 0, 0, 0, 0, 0, 0.0)
SEEN = Status("seen", "configured", 480.0, 1, 0, 0, 0, 0, 5.0)


def states(records) -> list[tuple[float, str]]:
    """Return times and names of the states."""
    return [(one.t_s, one.state) for one in records if isinstance(one, State)]


def readings(records) -> list[tuple[str, float]]:
    """Return names and values of the readings."""
    return [(one.quantity, one.value) for one in records if isinstance(one, Reading)]


def test_the_first_word_is_the_state_as_it_is():
    """Also that there is no stick yet; resets are known to be none."""
    said = LinkStory("link").take(1.0, GONE)
    assert states(said) == [(1.0, "gone")]
    assert readings(said) == [("link.resets", 0.0)]


def test_a_change_is_dated_when_it_was_seen_there():
    """Not when the message came, and to within a look of the stand-in."""
    story = LinkStory("link")
    story.take(1.0, GONE)
    said = story.take(5.3, SEEN)
    assert states(said) == [(5.0, "seen")]
    assert ("link.speed", 480.0) in readings(said)


def test_a_change_during_blindness_is_dated_after_it():
    """What happened while nobody looked is not put into the time in which nobody looked."""
    story = LinkStory("link")
    story.take(1.0, SEEN)
    assert states(story.blind(10.0, "it left")) == [(10.0, "blind")]
    assert story.blind(11.0, "it left") == []
    said = story.take(20.0, replace(GONE, enumerations=1, since_s=15.0))
    assert states(said) == [(20.0, "gone")]


def test_resets_are_counted_once_each():
    """Two resets between two words are two, and a repeated word is none."""
    story = LinkStory("link")
    story.take(1.0, SEEN)
    said = story.take(2.0, replace(SEEN, enumerations=3, resets=2))
    assert readings(said) == [("link.resets", 2.0)]
    assert states(said) == [(2.0, "seen")]
    assert story.take(3.0, replace(SEEN, enumerations=3, resets=2)) == []


def test_a_stand_in_begun_anew_is_told_afresh():
    """Its counts begin at none, which is no negative number of resets."""
    story = LinkStory("link")
    story.take(1.0, replace(SEEN, enumerations=7, resets=4))
    said = story.take(2.0, SEEN)
    assert states(said) == [(2.0, "seen")]
    assert readings(said) == [("link.resets", 0.0)]


def test_speed_and_moved_data_are_said_now_and_then():
    """A night of statuses each second must not fill the journal."""
    story, said = LinkStory("link"), []
    for second in range(600):
        said += story.take(float(second), replace(SEEN, read_bytes=second * 4096))
    assert len(states(said)) == pytest.approx(600 / MOVED_EVERY_S, abs=2)
    assert len(readings(said)) == pytest.approx(600 / SPEED_EVERY_S, abs=2)


def test_a_stick_played_here_is_plugged_watched_and_unplugged(tmp_path):
    """The bench's own device-mode port, on a folder that behaves as the kernel does."""
    kernel, clock = FakeKernel(tmp_path), BootClock()

    async def main() -> None:
        off_loop = ThreadOffLoop(clock)
        gadget = kernel.gadget()
        stand = LocalStand(gadget, lambda _: kernel.port().look, off_loop, may_sleep=False)
        with trio.fail_after(LIMIT_S):
            await stand.begin()
            async with aclosing(stand.statuses()) as statuses:
                assert (await anext(statuses)).at == "gone"
                kernel.enumerate_at("full-speed")
                seen = await anext(statuses)
                assert (seen.at, seen.speed_mbps, seen.enumerations) == ("seen", 12, 1)
            await stand.aclose()
            await stand.aclose()
        assert list(kernel.configfs.iterdir()) == []

    trio.run(main, clock=clock)


def test_a_computer_that_cannot_play_a_stick_is_told(tmp_path):
    """One sentence before the soak, from the kernel's own refusal."""
    kernel, clock = FakeKernel(tmp_path, ports=()), BootClock()

    async def main() -> None:
        off_loop = ThreadOffLoop(clock)
        stand = LocalStand(kernel.gadget(), lambda _: kernel.port().look, off_loop, may_sleep=False)
        with pytest.raises(Unreached, match="no USB port that can be a device"):
            await stand.begin()

    trio.run(main, clock=clock)
