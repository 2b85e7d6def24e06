import errno

import numpy as np
import pytest
import trio
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted_stick import (
    CHUNK,
    SIZE,
    BenchOfOneStick,
    ScriptedStick,
    marks,
    place,
    states,
    values,
)

from soak.checks.base import Done
from soak.checks.transfer import MOST_MARKS, THE_CHECK, TransferSettings
from soak.clock import LeapingClock
from soak.errors import BenchFault
from soak.measure.stick.pattern import Pattern
from soak.records import canonical_json
from soak.roles import Transfer


def soaked(lasts_s, prepare=lambda stick: None, **given):
    """Run the check for so long of leaping time; return the stick and what was said."""
    clock, said = LeapingClock(), []
    stick = ScriptedStick(clock)
    prepare(stick)
    keys = {"chunk_bytes": CHUNK, "pause_s": 1.0, **given}
    check = THE_CHECK(TransferSettings(**keys), place())

    async def main():
        with trio.move_on_after(lasts_s):
            await check.measure(BenchOfOneStick(clock, stick), Done(), said.append)

    trio.run(main, clock=clock)
    return stick, said


def test_a_good_stick_yields_no_wrong_byte_and_its_true_speed():
    """With nothing wrong there are readings, none of a wrong byte, and the speed is the stick's."""
    stick, said = soaked(120.0)
    assert [state.state for state in states(said)] == ["seen"]
    assert states(said)[0].t_s < 1
    assert sum(values(said, "damaged")) == 0
    assert values(said, "speed") == pytest.approx([stick.speed] * len(values(said, "speed")))
    assert len(values(said, "speed")) > 50
    assert marks(said, "chunk") == []


def test_no_more_is_written_than_the_budget_allows():
    """After the budget only reading goes on, and what is said to be written is what was."""
    stick, said = soaked(3600.0, write_budget_bytes=3 * SIZE + CHUNK, write_every_s=0)
    written = sum(length for _, _, length in stick.writes)
    assert written == 3 * SIZE
    assert sum(values(said, "written")) == written
    assert stick.reads[-1][0] > 3590


def test_a_budget_smaller_than_the_stick_uses_a_part_of_it():
    """With too little to write for the whole stick, a part is written and read back."""
    stick, said = soaked(60.0, write_budget_bytes=2 * CHUNK)
    assert {offset for _, offset, _ in stick.writes} == {0, CHUNK}
    assert len(values(said, "damaged")) > 0


def test_passes_of_writing_keep_their_distance():
    """Between two passes of writing lies at least the time set."""
    stick, _ = soaked(2000.0, write_every_s=300.0)
    begins = [t_s for t_s, offset, _ in stick.writes if offset == 0]
    assert len(begins) > 2
    assert min(np.diff(begins)) >= 300


def test_a_flipped_bit_is_found_counted_and_placed():
    """One bit changed in one chunk gives one wrong byte at each read, with its place."""

    def prepare(stick):
        def spoil(data, offset):
            wrong = bytearray(data)
            if offset == 2 * CHUNK and len(data) == CHUNK:
                wrong[700] ^= 4
            return bytes(wrong)

        stick.spoil = spoil

    _, said = soaked(60.0, prepare)
    found = marks(said, "chunk")
    assert set(values(said, "damaged")) == {0.0, 1.0}
    assert sum(values(said, "damaged")) == len(found)
    assert found[0]["kinds"] == {"flipped": 1}
    where = found[0]["where"][0]
    assert where["offset_bytes"] == 2 * CHUNK + 512
    assert where["positions"] == [(700 - 512) * 8 + 2]
    canonical_json(found)


def test_data_that_was_never_rewritten_is_told_as_an_earlier_pass():
    """A stick that loses the writes of its second pass returns data of the first."""

    def prepare(stick):
        kept = stick.write_at

        async def forgets(offset, data):
            before = bytes(stick.kept)
            came = await kept(offset, data)
            if stick.clock.now_s() > 30:
                stick.kept[:] = before
            return came

        stick.write_at = forgets

    _, said = soaked(60.0, prepare, write_every_s=30.0)
    found = marks(said, "chunk")
    assert found[0]["kinds"] == {"earlier pass": CHUNK // 512}
    assert found[0]["pass"] == 2
    assert found[0]["where"][0]["found"]["pass_number"] == 1
    assert sum(values(said, "damaged")) > 0


def test_a_stick_that_vanishes_is_gone_within_a_second_and_read_on_when_back():
    """Gone for 40 s: noticed within 1 s, back within 1 s, no wrong data, no second pass for it."""

    def prepare(stick):
        stick.fails = lambda now_s: errno.ENODEV if 100 <= now_s < 140 else None

    stick, said = soaked(300.0, prepare, pause_s=7.0, write_every_s=10_000.0)
    seen = [(state.state, state.t_s) for state in states(said)]
    assert [state for state, _ in seen] == ["seen", "gone", "seen"]
    assert 100 <= seen[1][1] <= 101
    assert 140 <= seen[2][1] <= 141
    assert states(said)[1].t_s - states(said)[1].within_s <= 100
    assert states(said)[2].t_s - states(said)[2].within_s <= 140
    assert marks(said, "reconnected")[0]["gone_s"] == pytest.approx(40, abs=1)
    assert sum(values(said, "damaged")) == 0
    assert len(stick.writes) == SIZE // CHUNK


def test_a_stick_pulled_while_it_is_written_is_written_on():
    """The chunk that was cut short is written again; nothing is charged as wrong data."""

    def prepare(stick):
        stick.fails = lambda now_s: errno.EIO if 2 <= now_s < 10 else None

    _, said = soaked(60.0, prepare)
    assert [state.state for state in states(said)] == ["seen", "gone", "seen"]
    assert sum(values(said, "damaged")) == 0
    assert len(values(said, "speed")) > 10


@pytest.mark.parametrize("bad_chunk", [0, 3])
def test_a_place_that_cannot_be_read_is_wrong_data_and_not_a_stick_gone(bad_chunk):
    """EIO at one sector, the first too, while the rest answers counts that sector as wrong."""

    def prepare(stick):
        plain = stick.read_at

        async def bad_place(offset, length):
            if offset == bad_chunk * CHUNK and stick.writes:
                return Transfer(None, 0.2, errno.EIO, "direct")
            return await plain(offset, length)

        stick.read_at = bad_place

    _, said = soaked(60.0, prepare)
    assert [state.state for state in states(said)] == ["seen"]
    found = marks(said, "chunk")
    assert found[0]["kinds"] == {"unreadable": 1}
    assert found[0]["errno"] == errno.EIO
    assert sum(values(said, "damaged")) == 512 * len(found)


def test_what_is_wrong_beside_a_place_that_cannot_be_read_is_found_too():
    """The rest of the chunk comes in pieces: a flipped bit in it is not hidden by a bad sector."""

    def prepare(stick):
        plain = stick.read_at

        async def bad_place(offset, length):
            if offset <= 2 * CHUNK + 5120 < offset + length and stick.writes:
                return Transfer(None, 0.2, errno.EIO, "direct")
            return await plain(offset, length)

        def spoil(data, offset):
            wrong, at = bytearray(data), 2 * CHUNK + 9000 - offset
            if 0 <= at < len(data):
                wrong[at] ^= 4
            return bytes(wrong)

        stick.read_at, stick.spoil = bad_place, spoil

    _, said = soaked(60.0, prepare)
    found = marks(said, "chunk")[0]
    assert found["kinds"] == {"flipped": 1, "unreadable": 1}
    assert [one["offset_bytes"] - 2 * CHUNK for one in found["where"]] == [5120, 8704]
    assert found["damaged_bytes"] == 513


def test_an_address_is_that_of_the_disk_where_the_data_begins_behind_a_label():
    """What can be looked up with other tools: soak's label of 1 MiB counts."""

    def prepare(stick):
        stick.identity = {"begins_bytes": 1 << 20}
        stick.spoil = lambda data, offset: bytes(512) + data[512:] if offset == CHUNK else data

    _, said = soaked(60.0, prepare)
    assert marks(said, "chunk")[0]["disk_address_bytes"] == (1 << 20) + CHUNK


def test_reads_that_may_be_cached_are_no_evidence():
    """With a cache in between the stick is blind, with the reason, and no reading is made of it."""

    def prepare(stick):
        stick.path = "maybe cached"
        stick.identity = {"why_cached": "a file system of kind tmpfs may answer from memory"}

    _, said = soaked(60.0, prepare)
    assert [state.state for state in states(said)] == ["blind"]
    assert "cache" in states(said)[0].detail["why"]
    assert "tmpfs" in states(said)[0].detail["why"]
    assert values(said, "speed") == []
    assert values(said, "damaged") == []


@pytest.mark.parametrize("link_mbps", [12, 480, 5000, 10000, 20000])
def test_each_links_ceiling_is_believed_and_a_hundredth_more_is_not(link_mbps):
    """Bulk to high speed: USB 2.0, 5.8.4; above: the line rate after 8b/10b or 128b/132b coding."""
    coded = {5000: 8 / 10, 10000: 128 / 132, 20000: 128 / 132}
    bulk = {12: 19 * 64 * 1000, 480: 13 * 512 * 8000}
    ceiling = bulk.get(link_mbps) or link_mbps * 1e6 * coded[link_mbps] / 8

    def state_at(share):
        def prepare(stick):
            stick.speed, stick.identity = ceiling * share, {"link_mbps": float(link_mbps)}

        return states(soaked(30.0, prepare)[1])[-1].state

    assert (state_at(0.999), state_at(1.01)) == ("seen", "blind")


@pytest.mark.parametrize(("link_mbps", "state"), [(480, "blind"), (5000, "seen")])
def test_reads_faster_than_the_link_are_a_measuring_fault(link_mbps, state):
    """60 MB/s cannot cross high-speed USB: bulk ends at 53 248 000 B/s (USB 2.0, 5.8.4)."""

    def prepare(stick):
        stick.speed, stick.identity = 60e6, {"link_mbps": float(link_mbps)}

    _, said = soaked(30.0, prepare)
    assert states(said)[-1].state == state


def test_a_fault_of_the_bench_is_blind_and_never_gone():
    """When the bench's own process fails, the stick is blind for that time and seen again after."""

    def prepare(stick):
        fault = BenchFault("stick", "the process that reads it died")
        stick.fails = lambda now_s: fault if 20 <= now_s < 30 else None

    _, said = soaked(60.0, prepare)
    assert [state.state for state in states(said)] == ["seen", "blind", "seen"]
    assert len(marks(said, "bench fault")) == 1
    assert len(marks(said, "bench well")) == 1
    assert sum(values(said, "damaged")) == 0


def test_a_stick_that_becomes_read_only_is_still_read():
    """Writing ends with one mark; what was written before goes on being read and verified."""

    def prepare(stick):
        stick.write_fails = lambda now_s: errno.EROFS if now_s > 40 else None

    stick, said = soaked(300.0, prepare, write_every_s=30.0)
    assert marks(said, "bench fault") == []
    [refused] = marks(said, "writing refused")
    assert (refused["errno"], refused["source"]) == (errno.EROFS, "stick")
    assert "read-only" in refused["why"]
    assert stick.reads[-1][0] > 290
    assert sum(values(said, "damaged")) == 0


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS])
def test_a_chunk_that_was_half_written_when_writing_was_refused_is_not_charged(number):
    """It holds neither the old data nor the new; all other chunks are read on."""

    def prepare(stick):
        plain = stick.write_at

        async def refuses(offset, data):
            if stick.clock.now_s() < 40:
                return await plain(offset, data)
            stick.kept[offset : offset + 4096] = data[:4096]
            return Transfer(None, 0.1, number, "direct")

        stick.write_at = refuses

    stick, said = soaked(300.0, prepare, write_every_s=30.0)
    assert len(marks(said, "writing refused")) == 1
    assert marks(said, "chunk") == []
    assert sum(values(said, "damaged")) == 0
    assert stick.reads[-1][0] > 290


def test_a_file_system_that_is_shut_because_its_stick_went_is_no_read_only_stick():
    """Pulled while it is written, a stick may be told as read-only or full: back, it is written."""
    numbers = [errno.EROFS, errno.ENOSPC, errno.EPERM]

    def prepare(stick):
        stick.write_fails = lambda now_s: numbers[0] if 40 <= now_s < 50 else None
        stick.fails = lambda now_s: errno.EIO if 40.06 <= now_s < 50 else None
        return stick

    for _ in range(len(numbers)):
        stick, said = soaked(200.0, prepare, write_every_s=0, pause_s=0.2)
        assert [state.state for state in states(said)] == ["seen", "gone", "seen"]
        assert marks(said, "bench fault") == []
        assert stick.writes[-1][0] > 150
        numbers.append(numbers.pop(0))


def test_a_read_that_comes_empty_has_no_speed():
    """Nothing in no time is not quicker than the link allows, nor does it slow the stick down."""

    def prepare(stick):
        stick.identity = {"link_mbps": 480.0}
        stick.speed = 40e6
        stick.spoil = lambda data, offset: b"" if offset == 3 * CHUNK else data

    _, said = soaked(60.0, prepare)
    assert [state.state for state in states(said)] == ["seen"]
    assert min(values(said, "speed")) == pytest.approx(40e6)
    found = marks(said, "chunk")
    assert sum(values(said, "damaged")) == CHUNK * len(found)


def test_a_stick_that_was_never_written_leaves_the_bench_blind():
    """Where nothing could be written there is nothing to read back, and that is said."""

    def prepare(stick):
        stick.write_fails = lambda now_s: errno.ENOSPC

    _, said = soaked(60.0, prepare)
    assert states(said)[-1].state == "blind"
    assert values(said, "damaged") == []


def test_details_are_capped_while_counts_go_on():
    """A stick of zeros gives so many marks one by one, then one a pass, and every byte counted."""

    def prepare(stick):
        stick.spoil = lambda data, offset: bytes(len(data))

    _, said = soaked(3000.0, prepare)
    found = marks(said, "chunk")
    one_by_one = [detail for detail in found if "chunks" not in detail]
    assert len(one_by_one) == MOST_MARKS
    chunks = MOST_MARKS + sum(detail["chunks"] for detail in found if "chunks" in detail)
    sectors = sum(detail["kinds"]["zeros"] for detail in found)
    assert sectors == chunks * CHUNK // 512
    bytes_wrong = sum(values(said, "damaged"))
    assert chunks * CHUNK * 0.99 < bytes_wrong <= chunks * CHUNK


def test_after_a_resume_the_passes_count_on():
    """What an earlier session wrote is recognised, so that its data cannot pass for new data."""
    clock = LeapingClock()
    stick = ScriptedStick(clock)
    check = THE_CHECK(TransferSettings(chunk_bytes=CHUNK, pause_s=1.0), place())
    passes = []

    async def main():
        for _ in range(2):
            bench = BenchOfOneStick(clock, stick)
            with trio.move_on_after(30.0):
                await check.measure(bench, Done(), lambda record: None)
            pattern_key = np.random.default_rng(1).bytes(16)
            passes.append(Pattern(pattern_key).whose(bytes(stick.kept[:512])).pass_number)

    trio.run(main, clock=clock)
    assert passes == [1, 2]


def test_after_a_resume_without_budget_the_earlier_data_is_read_on():
    """With all of the budget used before the interruption, nothing is written and all verified."""
    clock, said = LeapingClock(), []
    stick = ScriptedStick(clock)
    check = THE_CHECK(TransferSettings(chunk_bytes=CHUNK, write_budget_bytes=SIZE), place())

    async def main():
        for done, say in ((Done(), lambda record: None), (_all_written(), said.append)):
            stick.writes.clear()
            with trio.move_on_after(30.0):
                await check.measure(BenchOfOneStick(clock, stick), done, say)

    trio.run(main, clock=clock)
    assert stick.writes == []
    assert [state.state for state in states(said)] == ["seen"]
    assert len(values(said, "damaged")) > 10
    assert sum(values(said, "damaged")) == 0


def test_a_chunk_cut_short_by_the_benchs_own_end_is_not_charged():
    """What was half written when the bench stopped is not taken over as wrong data."""
    clock, said = LeapingClock(), []
    stick = ScriptedStick(clock)
    check = THE_CHECK(TransferSettings(chunk_bytes=CHUNK, write_budget_bytes=SIZE), place())
    pattern = Pattern(np.random.default_rng(1).bytes(16))

    async def main():
        with trio.move_on_after(30.0):
            await check.measure(BenchOfOneStick(clock, stick), Done(), lambda record: None)
        stick.kept[2 * CHUNK : 2 * CHUNK + 4096] = pattern.make(2, 2 * CHUNK, 4096)
        with trio.move_on_after(30.0):
            await check.measure(BenchOfOneStick(clock, stick), _all_written(), said.append)

    trio.run(main, clock=clock)
    assert len(values(said, "damaged")) > 10
    assert sum(values(said, "damaged")) == 0


def test_a_place_that_became_unreadable_while_the_bench_stood_still_is_charged():
    """After a resume without budget nothing is written; what cannot be read is not forgotten."""
    clock, said = LeapingClock(), []
    stick = ScriptedStick(clock)
    check = THE_CHECK(TransferSettings(chunk_bytes=CHUNK, write_budget_bytes=SIZE), place())
    plain = stick.read_at

    async def bad_place(offset, length):
        if offset == 3 * CHUNK:
            return Transfer(None, 0.2, errno.EIO, "direct")
        return await plain(offset, length)

    async def main():
        with trio.move_on_after(30.0):
            await check.measure(BenchOfOneStick(clock, stick), Done(), lambda record: None)
        stick.read_at = bad_place
        with trio.move_on_after(30.0):
            await check.measure(BenchOfOneStick(clock, stick), _all_written(), said.append)

    trio.run(main, clock=clock)
    assert marks(said, "chunk")[0]["kinds"] == {"unreadable": 1}
    assert sum(values(said, "damaged")) == 512


def _all_written():
    return Done(note={"written_bytes": SIZE})


class _Odd:
    """Which chunks a stick spoils: every one whose number has a bit of `mask`."""

    def __init__(self, mask):
        self.mask = mask

    def __call__(self, data, offset):
        if len(data) == CHUNK and self.mask >> (offset // CHUNK) & 1:
            return data[:-1] + bytes([data[-1] ^ 0x80])
        return data


@given(st.integers(0, 2 ** (SIZE // CHUNK) - 1))
@settings(max_examples=15)
def test_exactly_the_spoilt_chunks_are_found(mask):
    """Whatever chunks are spoilt, these and no others are marked."""
    _, said = soaked(20.0, lambda stick: setattr(stick, "spoil", _Odd(mask)), pause_s=0.5)
    found = {detail["offset_bytes"] // CHUNK for detail in marks(said, "chunk")}
    assert found == {number for number in range(SIZE // CHUNK) if mask >> number & 1}


@pytest.mark.parametrize(
    ("path", "port", "shown"),
    [
        ("through", "usb1", {"service_usb"}),
        ("through", "usb2", {"other_usb"}),
        ("through", "", set()),
        ("played", "usb1", set()),
        ("bench_only", "usb1", set()),
    ],
)
def test_only_data_that_crosses_the_units_port_shows_its_repair(path, port, shown):
    """A stick in the bench's own computer shows no function of the unit."""
    found = THE_CHECK(TransferSettings(), place(path, port)).requirements()
    assert [requirement.shows_repair for requirement in found] == [frozenset(shown)] * 6
    assert {r.id for r in found} == {
        f"night/transfer/{short}"
        for short in (
            *("no wrong data", "no stall", "speed kept", "stick stayed"),
            *("few late reads", "no slow drift"),
        )
    }


def test_a_simulated_night_says_few_readings():
    """8 h with a chunk every 10 s say a few thousand readings, not one for each second."""
    _, said = soaked(8 * 3600.0, pause_s=10.0, look_s=10.0)
    assert len(values(said, "speed")) < 5000
