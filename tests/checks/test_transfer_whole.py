import errno

import pytest
import trio
from scripted_stick import CHUNK, SIZE, BenchOfOneStick, ScriptedStick, marks, place, states, values

from soak.checks.base import Done
from soak.checks.transfer import THE_CHECK, TransferSettings
from soak.clock import LeapingClock
from soak.errors import BenchFault
from soak.roles import Transfer

CLAIMS = 32 * CHUNK


class FalseStick(ScriptedStick):
    """Claims more than it holds; beyond that addresses begin anew, or everything is lost."""

    def __init__(self, clock, holds, wraps):
        super().__init__(clock, CLAIMS)
        self.holds, self.wraps = holds, wraps
        self.size_bytes = SIZE
        self.identity = {"room_bytes": CLAIMS, "claims_bytes": CLAIMS}

    async def write_at(self, offset, data):
        if not self.wraps and offset >= self.holds:
            return await super().write_at(offset, bytes(len(data)))
        return await super().write_at(offset % self.holds, data)

    async def read_at(self, offset, length):
        return await super().read_at(offset % self.holds if self.wraps else offset, length)


def filled(holds=CLAIMS, wraps=True, done=None, prepare=lambda stick: None, lasts_s=60.0, **given):
    """Fill a stick by the check; return it and what was said."""
    clock, said = LeapingClock(), []
    stick = FalseStick(clock, holds, wraps)
    prepare(stick)
    keys = {"chunk_bytes": CHUNK, "whole": True, "write_budget_bytes": CLAIMS, "pause_s": 0.2}
    check = THE_CHECK(TransferSettings(**{**keys, **given}), place())

    async def main():
        with trio.move_on_after(lasts_s):
            await check.measure(BenchOfOneStick(clock, stick), done or Done(), said.append)

    trio.run(main, clock=clock)
    return stick, said


def test_an_honest_stick_is_filled_once_and_read_back():
    """All there is room for is written once, within the budget, and comes back."""
    stick, said = filled()
    assert sum(length for _, _, length in stick.writes) == CLAIMS
    assert marks(said, "capacity") == [
        {"claims_bytes": CLAIMS, "tried_bytes": CLAIMS, "holds_bytes": CLAIMS}
    ]
    assert sum(values(said, "damaged")) == 0


def test_a_stick_that_wraps_is_found_out_before_it_is_written_over_again():
    """It claims 32 chunks and holds 8: known after the ninth, and no wrong data is charged."""
    stick, said = filled(holds=8 * CHUNK)
    found = marks(said, "capacity")[0]
    assert (found["holds_bytes"], found["wraps_bytes"]) == (8 * CHUNK, 8 * CHUNK)
    first_pass = [offset for _, offset, _ in stick.writes[:9]]
    assert first_pass == [chunk % 8 * CHUNK for chunk in range(9)]
    assert sum(values(said, "damaged")) == 0
    assert [state.state for state in states(said)] == ["seen"]


def test_one_read_from_a_wrong_address_is_the_ports_fault_and_not_the_sticks_size():
    """Its beginning came once from elsewhere and then was right: wrong data, and all was filled."""
    odd = []

    def prepare(stick):
        plain = stick.read_at

        async def once_wrong(offset, length):
            if (offset, length) == (0, 4096) and len(stick.writes) == 5 and not odd:
                odd.append(1)
                return await plain(4 * CHUNK, length)
            return await plain(offset, length)

        stick.read_at = once_wrong

    stick, said = filled(prepare=prepare)
    assert odd
    assert sum(length for _, _, length in stick.writes) == CLAIMS
    assert marks(said, "capacity")[0]["holds_bytes"] == CLAIMS
    assert marks(said, "chunk") == [
        {
            "kinds": {"wrong address": 8},
            "offset_bytes": 0,
            "length_bytes": CHUNK,
            "pass": 1,
        }
    ]
    assert sum(values(said, "damaged")) == 4096


def test_a_chunk_that_could_not_be_written_is_charged_once():
    """The write fails at one sector while the stick answers: not read back as lost besides."""

    def prepare(stick):
        plain = stick.write_at

        async def bad_place(offset, data):
            if offset == 3 * CHUNK:
                return Transfer(None, 0.2, errno.EIO, "direct")
            return await plain(offset, data)

        stick.write_at = bad_place

    _, said = filled(prepare=prepare)
    assert marks(said, "chunk")[0]["kinds"] == {"not written": 1}
    assert len(marks(said, "chunk")) == 1
    assert sum(values(said, "damaged")) == 512


def test_a_stick_that_loses_what_it_cannot_hold_is_found_out():
    """Zeros come back from beyond 8 chunks: it holds these."""
    _, said = filled(holds=8 * CHUNK, wraps=False)
    found = marks(said, "capacity")[0]
    assert found["holds_bytes"] == 8 * CHUNK
    assert "wraps_bytes" not in found
    assert sum(values(said, "damaged")) == 0


def test_one_bad_sector_while_filling_is_wrong_data():
    """A sector of zeros among 32 chunks is charged, and the size stays as claimed."""

    def prepare(stick):
        stick.spoil = lambda data, offset: (
            bytes(512) + data[512:] if (offset, len(data)) == (3 * CHUNK, CHUNK) else data
        )

    _, said = filled(prepare=prepare, lasts_s=1.0, pause_s=0.0)
    assert marks(said, "capacity")[0]["holds_bytes"] == CLAIMS
    assert 512.0 in values(said, "damaged")


def test_a_budget_too_small_to_fill_the_stick_is_one_sentence():
    """The sentence names both figures and what to change."""
    clock = LeapingClock()
    stick = FalseStick(clock, CLAIMS, True)
    keys = {"chunk_bytes": CHUNK, "whole": True, "write_budget_bytes": CLAIMS - CHUNK}
    check = THE_CHECK(TransferSettings(**keys), place())

    async def main():
        with pytest.raises(BenchFault, match=r"whole fills 2\.10 MB.*write_budget_bytes.*raise"):
            await check.measure(BenchOfOneStick(clock, stick), Done(), lambda record: None)

    trio.run(main, clock=clock)
    assert stick.writes == []


def test_a_resumed_filling_goes_on_where_it_was_cut_off():
    """What lies on the stick already is not written again, and all is read back."""
    clock, said = LeapingClock(), []
    stick = FalseStick(clock, CLAIMS, True)
    keys = {"chunk_bytes": CHUNK, "whole": True, "write_budget_bytes": CLAIMS, "pause_s": 0.2}
    check = THE_CHECK(TransferSettings(**keys), place())
    written = []

    async def main():
        done = Done()
        for lasts_s, say in ((0.02, lambda record: None), (60.0, said.append)):
            stick.writes.clear()
            with trio.move_on_after(lasts_s):
                await check.measure(BenchOfOneStick(clock, stick), done, say)
            written.append(sum(length for _, _, length in stick.writes))
            done = Done(note={"written_bytes": (len(stick.writes) - 1) * CHUNK, "filled": False})

    trio.run(main, clock=clock)
    assert 2 * CHUNK < written[0] < CLAIMS
    assert written[0] + written[1] == CLAIMS + CHUNK
    assert marks(said, "capacity")[0]["holds_bytes"] == CLAIMS
    assert sum(values(said, "damaged")) == 0


def test_a_stick_filled_by_an_earlier_session_is_not_filled_again():
    """Once is once, also over a resume."""
    done = Done(note={"written_bytes": CLAIMS, "filled": True})
    stick, said = filled(done=done)
    assert stick.writes == []
    assert marks(said, "capacity") == []


def test_a_file_system_that_is_full_early_is_read_back_as_far_as_it_went():
    """It claimed room it does not give: what was taken is verified, and no size is called false."""

    def prepare(stick):
        stick.write_fails = lambda now_s: errno.ENOSPC if len(stick.writes) > 20 else None

    _, said = filled(prepare=prepare)
    assert marks(said, "capacity")[0]["tried_bytes"] == 20 * CHUNK
    assert marks(said, "capacity")[0]["holds_bytes"] == 20 * CHUNK


def test_what_may_be_cached_says_nothing_of_the_size():
    """Where reads are no evidence no size is stated."""

    def prepare(stick):
        stick.path = "maybe cached"

    _, said = filled(prepare=prepare)
    assert marks(said, "capacity") == []
    assert states(said)[-1].state == "blind"
