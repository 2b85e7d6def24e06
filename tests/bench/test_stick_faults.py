"""Needs: /dev/fuse and root. The driver on a file system that lies, as no page cache would show."""

import errno

import fuse_kernel
import numpy as np
import pytest
import trio
from fuse_stick import FuseStick
from headers import placed
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mounted_stick import opened, run
from patience import LIMIT_S

from soak.checks.base import Done
from soak.checks.transfer import THE_CHECK, TransferSettings
from soak.measure.stick.pattern import Pattern
from soak.records import Mark, Reading, State

pytestmark = pytest.mark.skipif(bool(fuse_kernel.why_not()), reason=fuse_kernel.why_not() or "-")

PATTERN = Pattern(bytes(16))
SIZE = 1 << 20
BELIEVED = {"reads_medium": ["fuse"]}


def test_a_file_system_of_unknown_making_is_no_evidence(tmp_path):
    """What stands behind FUSE may cache: without being vouched for it is not believed."""

    async def main(clock):
        with FuseStick(tmp_path) as faulty:
            async with opened(clock, faulty.folder) as stick:
                await stick.write_at(0, PATTERN.make(1, 0, SIZE))
                assert (await stick.read_at(0, SIZE)).path == "maybe cached"

    run(main)


def test_a_fault_behind_the_cache_is_seen_though_a_plain_read_misses_it(tmp_path):
    """The plain read is answered from memory, the driver's from the stick."""

    async def main(clock):
        with FuseStick(tmp_path) as faulty:
            async with opened(clock, faulty.folder, **BELIEVED) as stick:
                data = PATTERN.make(1, 0, SIZE)
                await stick.write_at(0, data)
                with (faulty.folder / "soak-data" / "data.bin").open("rb") as plain:
                    assert plain.read() == data
                    faulty.be(flips={5000: 1})
                    plain.seek(0)
                    assert plain.read() == data
                    read = await stick.read_at(0, SIZE)
                assert read.path == "direct"
                assert PATTERN.examine(read.data, 1, 0).wrong == {"flipped": 1}

    run(main)


sectors = st.sets(st.integers(1, SIZE // 512 - 1), max_size=3)


@given(sectors, sectors, sectors, sectors)
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_faults_of_a_mounted_stick_are_classified_as_injected(
    tmp_path, flipped, zeros, near, stale
):
    """Flips, zeros, near-zeros, stale sectors come through driver and kernel as put in."""
    zeros = zeros - flipped
    near = near - flipped - zeros
    stale = stale - flipped - zeros - near

    async def main(clock):
        with FuseStick(tmp_path, f"stick-{len(list(tmp_path.iterdir()))}") as faulty:
            async with opened(clock, faulty.folder, **BELIEVED) as stick:
                await stick.write_at(0, PATTERN.make(1, 0, SIZE))
                faulty.keep()
                await stick.write_at(0, PATTERN.make(2, 0, SIZE))
                faulty.be(
                    flips={number * 512 + 7: 16 for number in flipped},
                    zeros=[number * 512 for number in zeros],
                    near_zeros=[number * 512 for number in near],
                    stale=[number * 512 for number in stale],
                )
                counts = PATTERN.examine((await stick.read_at(0, SIZE)).data, 2, 0)
        wanted = {"flipped": len(flipped), "zeros": len(zeros | near), "earlier pass": len(stale)}
        assert counts.wrong == {kind: count for kind, count in wanted.items() if count}

    run(main)


def test_a_stick_that_wraps_around_is_found_out(tmp_path):
    """A stick smaller than it says returns data of another address, and by how much is told."""

    async def main(clock):
        with FuseStick(tmp_path) as faulty:
            async with opened(clock, faulty.folder, **BELIEVED) as stick:
                await stick.write_at(0, PATTERN.make(1, 0, SIZE))
                faulty.be(wraps_at=SIZE // 2)
                half = PATTERN.examine((await stick.read_at(0, SIZE // 2)).data, 1, 0)
        assert half.wrong == {"wrong address": SIZE // 2 // 512}
        assert half.details[0].found.offset_bytes == SIZE // 2

    run(main)


def test_an_unreadable_place_gives_its_error_number_and_the_rest_is_read(tmp_path):
    """EIO in one place comes as errno; the next read elsewhere is well."""

    async def main(clock):
        with FuseStick(tmp_path) as faulty:
            async with opened(clock, faulty.folder, **BELIEVED) as stick:
                data = PATTERN.make(1, 0, SIZE)
                await stick.write_at(0, data)
                faulty.be(unreadable=[SIZE // 2])
                bad = await stick.read_at(SIZE // 2, 8192)
                assert (bad.errno, bad.data) == (errno.EIO, None)
                assert (await stick.read_at(0, 8192)).data == data[:8192]

    run(main)


def test_a_read_that_hangs_in_the_kernel_is_given_up_in_time(tmp_path):
    """A stall without end ends at the limit of 2 s, and closing does not wait for it."""

    async def main(clock):
        with FuseStick(tmp_path) as faulty, trio.fail_after(LIMIT_S):
            async with opened(clock, faulty.folder, limit_s=2.0, **BELIEVED) as stick:
                await stick.write_at(0, PATTERN.make(1, 0, SIZE))
                faulty.be(stall_s=2 * LIMIT_S)
                stalled = await stick.read_at(0, 8192)
                assert (stalled.errno, stalled.data) == (errno.ETIMEDOUT, None)
                assert stalled.took_s >= 2.0
                assert (await stick.read_at(0, 8192)).errno == errno.ETIMEDOUT

    run(main)


def test_the_check_sees_a_real_stick_go_and_come_back(tmp_path):
    """Through the real driver: gone noticed within 1 s, read on within 1 s after its return."""
    said = []

    async def main(clock):
        with FuseStick(tmp_path) as faulty:
            async with opened(clock, faulty.folder, **BELIEVED) as stick:
                check = THE_CHECK(
                    TransferSettings(chunk_bytes=SIZE // 4, size_bytes=SIZE),
                    placed("night", {"stick": {"port": "usb1", "path": "through"}}, {}),
                )
                bench = _Bench(clock, stick)
                async with trio.open_nursery() as nursery:
                    nursery.start_soon(check.measure, bench, Done(), said.append)
                    await _until(said, lambda r: isinstance(r, Reading) and "damaged" in r.quantity)
                    pulled_s = clock.now_s()
                    faulty.be(gone=errno.ENODEV)
                    gone = await _until(said, lambda r: isinstance(r, State) and r.state == "gone")
                    assert gone.t_s - pulled_s < 1.0
                    back_s = clock.now_s()
                    faulty.be()
                    mark = await _until(
                        said, lambda r: isinstance(r, Mark) and r.what == "reconnected"
                    )
                    assert mark.t_s - back_s < 1.0
                    nursery.cancel_scope.cancel()

    run(main)
    wrong = [r for r in said if isinstance(r, Reading) and r.quantity.endswith("damaged")]
    assert sum(reading.value for reading in wrong) == 0


def test_a_stick_that_wraps_is_found_out_by_filling_it(tmp_path):
    """Filled through the real driver: a stick of half its size is told by its first chunk."""
    said = []

    async def main(clock):
        with FuseStick(tmp_path) as faulty:
            async with opened(clock, faulty.folder, **BELIEVED) as stick:
                stick.identity["room_bytes"] = stick.identity["claims_bytes"] = SIZE
                faulty.be(holds=SIZE // 2)
                check = THE_CHECK(
                    TransferSettings(chunk_bytes=SIZE // 8, whole=True, write_budget_bytes=SIZE),
                    placed("night", {"stick": {"port": "usb1", "path": "through"}}, {}),
                )
                async with trio.open_nursery() as nursery:
                    nursery.start_soon(check.measure, _Bench(clock, stick), Done(), said.append)
                    mark = await _until(
                        said, lambda r: isinstance(r, Mark) and r.what == "capacity"
                    )
                    nursery.cancel_scope.cancel()
                assert mark.detail["holds_bytes"] == SIZE // 2
                assert mark.detail["wraps_bytes"] == SIZE // 2

    run(main)


class _Bench:
    def __init__(self, clock, stick):
        self.clock, self.random, self._stick = clock, np.random.default_rng(1), stick

    def stick(self, name="stick"):
        return self._stick


async def _until(said, wanted):
    """Return the first record wanted."""
    with trio.fail_after(LIMIT_S):
        while not (found := [record for record in said if wanted(record)]):
            await trio.sleep(0.02)
    return found[0]
