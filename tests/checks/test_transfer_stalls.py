"""A transfer that takes too long: one stall, told while it lasts, and not lost at an end."""

import errno

import pytest
import trio
from scripted_stick import CHUNK, BenchOfOneStick, ScriptedStick, marks, place, states, values
from short_soak import soak

from soak.checks.base import Done
from soak.checks.transfer import THE_CHECK, TransferSettings
from soak.clock import LeapingClock
from soak.errors import BenchFault
from soak.roles import Transfer

GIVEN_UP_S = 30.0
"""A driver waits so long for a transfer that hangs."""
HANGS_S = 50.0
STALL_S = 5.0


class HangingStick(ScriptedStick):
    """Answers nothing from 50 s on until it is well again, or has left; the driver gives up."""

    def __init__(self, clock, well_s, leaves_s=float("inf")):
        super().__init__(clock)
        self.well_s, self.leaves_s = well_s, leaves_s

    async def read_at(self, offset, length):
        begun_s = self.clock.now_s()
        if begun_s >= self.leaves_s:
            return Transfer(None, 0.0, errno.ENODEV, "direct")
        if not HANGS_S <= begun_s < self.well_s:
            return await super().read_at(offset, length)
        await trio.sleep(min(GIVEN_UP_S, self.well_s - begun_s))
        took_s = self.clock.now_s() - begun_s
        if self.clock.now_s() >= self.leaves_s:
            return Transfer(None, took_s, errno.ENODEV, "direct")
        if took_s < GIVEN_UP_S - 1e-3:
            came = await super().read_at(offset, length)
            return Transfer(came.data, took_s + came.took_s, None, "direct")
        return Transfer(None, took_s, errno.ETIMEDOUT, "direct")


def soaked(lasts_s, stick):
    """Run the check on a stick for so long of leaping time; return what was said."""
    said = []
    given = TransferSettings(chunk_bytes=CHUNK, pause_s=1.0, stall_s=STALL_S)

    async def main():
        with trio.move_on_after(lasts_s):
            bench = BenchOfOneStick(stick.clock, stick)
            await THE_CHECK(given, place()).measure(bench, Done(), said.append)

    trio.run(main, clock=stick.clock)
    return said


def seen_to_be(said):
    return [state.state for state in states(said)]


def stalls(said):
    return [took_s for took_s in values(said, "chunk_s") if took_s > STALL_S]


@pytest.mark.parametrize("lasts_s", [8.0, 29.0, 30.0, 31.0, 75.0, 600.0])
def test_a_stall_is_one_and_takes_as_long_as_the_stick_does_not_answer(lasts_s):
    """However often the driver gives up meanwhile; it is never said to be gone."""
    said = soaked(lasts_s + 100.0, HangingStick(LeapingClock(), HANGS_S + lasts_s))
    assert stalls(said) == [pytest.approx(lasts_s, abs=2.0)]
    assert seen_to_be(said) == ["seen", "stalled", "seen"]
    assert sum(values(said, "damaged")) == 0


def test_a_stall_is_told_as_soon_as_it_has_lasted_longer_than_is_allowed():
    """Not only when it is over: whoever is at the bench can still look."""
    said = soaked(100.0, HangingStick(LeapingClock(), HANGS_S + 28.0))
    (stalled,) = [state for state in states(said) if state.state == "stalled"]
    assert stalled.t_s == pytest.approx(HANGS_S + STALL_S, abs=1.0)


@pytest.mark.parametrize("ends_s", [58.0, 81.0, 300.0])
def test_what_hangs_when_the_time_is_over_took_as_long_as_that(ends_s):
    """Eight seconds and minutes, in a driver's call and between two of them."""
    said = soaked(ends_s, HangingStick(LeapingClock(), float("inf")))
    assert stalls(said) == [pytest.approx(ends_s - HANGS_S, abs=2.0)]


def test_what_is_under_way_for_a_moment_when_the_time_is_over_is_no_stall():
    """Most ends come in the middle of a transfer."""
    assert stalls(soaked(52.0, HangingStick(LeapingClock(), float("inf")))) == []


@pytest.mark.parametrize("leaves_s", [60.0, 70.0, 200.0])
def test_a_stick_that_hangs_and_then_leaves_is_gone_and_no_stall_beside(leaves_s):
    """One fault: from when it was last seen to answer."""
    said = soaked(leaves_s + 50.0, HangingStick(LeapingClock(), leaves_s, leaves_s))
    assert stalls(said) == []
    assert seen_to_be(said) == ["seen", "stalled", "gone"]
    assert len(marks(said, "reconnected")) == 0


@pytest.mark.parametrize("chunk", ["512 kB", "4 MiB"])
def test_a_simulated_sticks_rest_is_no_transfer_under_way(tmp_path, chunk):
    """A simulated night has fewer transfers; between two of them nothing hangs."""
    wired = '[switch]\ndriver = "simulated"\n[stick]\ndriver = "simulated"\nport = "usb1"\n'
    found = soak(
        tmp_path, f'{wired}path = "through"\n', {"transfer": {"chunk_bytes": chunk}}, {}, "10 min"
    )
    assert found.verdict("transfer/no stall") == "met"
    assert found.findings["it/transfer/no stall"].value < 1.0


def test_a_stick_that_fails_while_the_bench_does_is_not_called_gone():
    """A place that cannot be read, and then the process that reads dies: nobody knows."""
    stick = ScriptedStick(LeapingClock())
    fault = BenchFault("stick", "the process that reads it died")
    plain, asked = stick.read_at, []

    async def reads(offset, length):
        if stick.clock.now_s() < HANGS_S or len(asked) > 4:
            return await plain(offset, length)
        asked.append(offset)
        if len(asked) == 1:
            return Transfer(None, 0.01, errno.EIO, "direct")
        raise fault

    stick.read_at = reads
    assert seen_to_be(soaked(100.0, stick)) == ["seen", "blind", "seen"]
