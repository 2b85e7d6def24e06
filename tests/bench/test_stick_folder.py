"""Needs: Linux for reads past the cache; root and a loop device for the tests that mount."""

import errno
import mmap
import os
import subprocess
from pathlib import Path

import pytest
import trio
from mounted_stick import mounted, opened, run

from soak.bench.stick.folder import open_own
from soak.bench.stick.uncached import pages_in_memory
from soak.errors import BenchFault
from soak.measure.stick.pattern import Pattern

PATTERN = Pattern(bytes(16))
MIB = 1 << 20


def behind_the_cache(image: Path, known: bytes) -> None:
    """Change one bit of `known` on the medium itself, under the mounted file system."""
    subprocess.run(["sync"], check=True)
    place = image.read_bytes().find(known)
    assert place > 0
    with image.open("r+b", buffering=0) as file:
        file.seek(place)
        file.write(bytes([known[0] ^ 1]) + known[1:512])
        os.fsync(file.fileno())


def test_what_was_written_is_read_back(tmp_path):
    """Data of a pass comes back as it was, with its times and without an error."""

    async def main(clock):
        async with opened(clock, tmp_path) as stick:
            data = PATTERN.make(1, 0, MIB)
            wrote = await stick.write_at(0, data)
            read = await stick.read_at(0, MIB)
            assert (wrote.errno, read.errno) == (None, None)
            assert read.data == data
            assert wrote.took_s > 0
            assert read.took_s > 0
            assert stick.size_bytes == 2 * MIB

    run(main)


def test_reading_beyond_what_was_written_comes_short(tmp_path):
    """A part of the stick that was never written yields fewer bytes, not invented ones."""

    async def main(clock):
        async with opened(clock, tmp_path) as stick:
            await stick.write_at(0, PATTERN.make(1, 0, 8192))
            assert len((await stick.read_at(4096, 8192)).data) == 4096
            assert (await stick.read_at(MIB, 4096)).data == b""

    run(main)


def test_a_cached_read_would_have_missed_what_the_driver_sees(tmp_path):
    """With the medium changed behind the page cache, a plain read is fooled and the driver not."""

    async def main(clock):
        with mounted(tmp_path) as (point, image, _):
            async with opened(clock, point) as stick:
                data = PATTERN.make(1, 0, MIB)
                await stick.write_at(0, data)
                plain = point / "soak-data" / "data.bin"
                assert plain.read_bytes() == data
                behind_the_cache(image, data[:512])
                read = await stick.read_at(0, MIB)
                assert read.path == "direct"
                counts = PATTERN.examine(read.data, 1, 0)
                assert counts.wrong == {"flipped": 1}
                assert counts.details[0].positions == (0,)

    run(main)


def test_a_plain_read_is_fooled_by_the_page_cache(tmp_path):
    """The trap is real: a read through the cache still gives what was written."""
    with mounted(tmp_path) as (point, image, _):
        data, plain = PATTERN.make(1, 0, MIB), point / "plain.bin"
        with plain.open("wb") as file:
            file.write(data)
            os.fsync(file.fileno())
        behind_the_cache(image, data[:512])
        assert plain.read_bytes() == data
        with plain.open("rb") as file:
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
            assert file.read() != data


def test_reopening_reads_the_medium_where_direct_reads_are_refused(tmp_path, monkeypatch):
    """Without direct reads the file is dropped and reopened, and the change is still seen."""
    monkeypatch.setenv("PYTHONPATH", str(_without_direct_reads(tmp_path)))

    async def main(clock):
        with mounted(tmp_path) as (point, image, _):
            async with opened(clock, point) as stick:
                data = PATTERN.make(1, 0, MIB)
                await stick.write_at(0, data)
                behind_the_cache(image, data[:512])
                read = await stick.read_at(0, MIB)
                assert not stick.identity["direct"]
                assert read.path == "reopened"
                assert PATTERN.examine(read.data, 1, 0).wrong == {"flipped": 1}

    run(main)


def test_pages_that_somebody_else_holds_are_not_called_reopened(tmp_path, monkeypatch):
    """Where the kernel keeps pages though asked to drop them, the read is no evidence."""
    monkeypatch.setenv("PYTHONPATH", str(_without_direct_reads(tmp_path)))

    async def main(clock):
        with mounted(tmp_path) as (point, _, _):
            async with opened(clock, point) as stick:
                await stick.write_at(0, PATTERN.make(1, 0, MIB))
                with (point / "soak-data" / "data.bin").open("rb") as file:
                    held = mmap.mmap(file.fileno(), 0, prot=mmap.PROT_READ)
                    assert held[:] == PATTERN.make(1, 0, MIB)  # mapped pages cannot be dropped
                    assert (await stick.read_at(0, MIB)).path == "maybe cached"
                    held.close()

    run(main)


def _without_direct_reads(tmp_path) -> Path:
    """Return a folder whose sitecustomize makes a child refuse O_DIRECT, as some systems do."""
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "sitecustomize.py").write_text(
        "import errno, os\n"
        "plain = os.open\n"
        "def opens(path, flags, *args, **more):\n"
        "    if flags & os.O_DIRECT:\n"
        "        raise OSError(errno.EINVAL, 'no direct reads here')\n"
        "    return plain(path, flags, *args, **more)\n"
        "os.open = opens\n"
    )
    return folder


@pytest.mark.skipif(not Path("/dev/shm").is_dir(), reason="no file system in memory here")
def test_a_file_system_in_memory_is_no_evidence(tmp_path):
    """Reads from tmpfs, which takes the flag for direct reads, are called maybe cached."""

    async def main(clock):
        place = Path("/dev/shm") / f"soak-test-{os.getpid()}"
        place.mkdir()
        try:
            async with opened(clock, place) as stick:
                await stick.write_at(0, PATTERN.make(1, 0, 4096))
                assert (await stick.read_at(0, 4096)).path == "maybe cached"
                assert "tmpfs" in stick.identity["why_cached"]
        finally:
            for name in ("data.bin", "id.json"):
                (place / "soak-data" / name).unlink()
            (place / "soak-data").rmdir()
            place.rmdir()

    run(main)


def test_a_loop_device_that_reads_through_a_cache_is_no_evidence(tmp_path):
    """A loop device without direct I/O of its own has a second cache below the file system's."""

    async def main(clock):
        with mounted(tmp_path, direct_io=False) as (point, _, _):
            async with opened(clock, point) as stick:
                await stick.write_at(0, PATTERN.make(1, 0, 4096))
                assert (await stick.read_at(0, 4096)).path == "maybe cached"

    run(main)


def test_a_stick_that_comes_back_elsewhere_is_found_by_its_id(tmp_path):
    """Unmounted, the stick is gone; mounted under another name, it is read on within one call."""

    async def main(clock):
        with mounted(tmp_path) as (point, _, device):
            async with opened(clock, point) as stick:
                data = PATTERN.make(1, 0, 8192)
                await stick.write_at(0, data)
                subprocess.run(["umount", "-l", str(point)], check=True)
                (elsewhere := tmp_path / "elsewhere").mkdir()
                await stick.aclose()  # lets go, as after a failed read
                gone = await stick.read_at(0, 8192)
                assert (gone.errno, gone.data) == (errno.ENODEV, None)
                subprocess.run(["mount", device, str(elsewhere)], check=True)
                try:
                    assert (await stick.read_at(0, 8192)).data == data
                    assert stick.identity["folder"] == str(elsewhere)
                finally:
                    await stick.aclose()
                    subprocess.run(["umount", "-l", str(elsewhere)], check=True)

    run(main)


def test_a_stick_that_became_read_only_is_read_on_and_not_called_gone(tmp_path):
    """A file system that found itself damaged takes no more data, and the stick is still there."""

    async def main(clock):
        with mounted(tmp_path) as (point, _, _):
            async with opened(clock, point) as stick:
                data = PATTERN.make(1, 0, 8192)
                await stick.write_at(0, data)
                await stick.aclose()  # lets go, as after a failed write
                subprocess.run(["mount", "-o", "remount,ro", str(point)], check=True)
                assert (await stick.read_at(0, 8192)).data == data
                assert (await stick.write_at(0, data)).errno == errno.EROFS
                assert (await stick.read_at(0, 8192)).data == data

    run(main)


def test_a_sticks_id_is_flushed_under_its_last_name(tmp_path, monkeypatch):
    """FAT keeps the length beside the name: flushed only before, the id was empty after a pull."""
    flushed, plain = [], os.fsync

    def flushes(descriptor):
        flushed.append(Path(f"/proc/self/fd/{descriptor}").readlink().name)
        plain(descriptor)

    monkeypatch.setattr(os, "fsync", flushes)
    for descriptor in open_own(str(tmp_path), "", 4096)[:2]:
        os.close(descriptor)
    assert flushed[-1] == "id.json"


def test_another_stick_at_the_same_place_is_not_taken_for_ours(tmp_path):
    """The id on the medium decides, not the name of the folder."""

    async def main(clock):
        async with opened(clock, tmp_path) as stick:
            await stick.write_at(0, PATTERN.make(1, 0, 4096))
            (tmp_path / "soak-data").rename(tmp_path / "pulled")
            await stick.aclose()
            assert (await stick.read_at(0, 4096)).errno == errno.ENODEV
            async with opened(clock, tmp_path) as other:
                assert other.identity["stick_id"] != stick.identity["stick_id"]
            assert (await stick.read_at(0, 4096)).errno == errno.ENODEV

    run(main)


def test_a_second_soak_on_the_same_stick_is_refused(tmp_path):
    """Two soaks would overwrite each other's data: the second is told so."""

    async def main(clock):
        async with opened(clock, tmp_path):
            with pytest.raises(BenchFault, match="another soak"):
                async with opened(clock, tmp_path):
                    pass

    run(main)


def test_closing_twice_is_safe(tmp_path):
    """Closing a closed stick does nothing."""

    async def main(clock):
        async with opened(clock, tmp_path) as stick:
            await stick.aclose()
            await stick.aclose()

    run(main)


def test_a_cancelled_read_leaves_the_stick_usable(tmp_path):
    """A stretch that ends in the middle of a read does not make the next read a failure."""

    async def main(clock):
        async with opened(clock, tmp_path) as stick:
            await stick.write_at(0, PATTERN.make(1, 0, 4096))
            with trio.CancelScope() as scope:
                scope.cancel()
                await stick.read_at(0, 4096)
            assert scope.cancelled_caught
            assert (await stick.read_at(0, 4096)).data == PATTERN.make(1, 0, 4096)

    run(main)


def test_pages_in_memory_are_counted(tmp_path):
    """A file just written has all its pages in the cache, by mincore(2)."""
    with (tmp_path / "file").open("w+b") as file:
        file.write(bytes(10 * 4096))
        file.flush()
        assert pages_in_memory(file.fileno(), 0, 10 * 4096) == 10
        assert pages_in_memory(file.fileno(), 4096, 4096) == 1


def test_pages_are_counted_where_pages_are_larger_than_a_sticks_blocks(tmp_path, monkeypatch):
    """A mapping begins at a page; where that has 16 KiB, a block of 4 KiB may lie within one."""
    monkeypatch.setattr(mmap, "ALLOCATIONGRANULARITY", 16384)
    with (tmp_path / "file").open("w+b") as file:
        file.write(bytes(10 * 4096))
        file.flush()
        assert pages_in_memory(file.fileno(), 5 * 4096, 4096) == 2  # from 16384 on: two of 4 KiB
