"""A stick played on the kernel's own dummy device-mode port, taken in by the same kernel."""

import os
import time
from pathlib import Path

import pytest

from soak.bench.stand_in.gadget import CONFIGFS, Gadget, StickPlayed
from soak.bench.stand_in.gadget_state import UDCS, Port

DUMMY = "dummy_udc.0"


def disk_of(serial: str, limit_s: float) -> Path | None:
    """Wait for the disk that the kernel makes of the stick with this serial number."""
    until_s = time.monotonic() + limit_s
    while time.monotonic() < until_s:
        for block in Path("/sys/block").glob("sd*"):
            above = block.resolve().parents
            serials = [folder / "serial" for folder in above if (folder / "idVendor").exists()]
            if any(file.read_text().strip() == serial for file in serials if file.exists()):
                return Path("/dev") / block.name
    return None


def test_a_kernel_takes_in_the_stick_and_every_byte_written_is_counted(tmp_path):
    """What a real host writes is counted to the byte and lies in the image."""
    there = (UDCS / DUMMY).exists() and CONFIGFS.is_dir() and os.geteuid() == 0
    if not there:
        pytest.skip("needs root, configfs and the module dummy_hcd, which plays a device-mode port")
    image = tmp_path / "stick.img"
    image.write_bytes(os.urandom(4 << 20))
    gadget = Gadget(StickPlayed(image, "SOAKDUMMY1", DUMMY))
    gadget.plug()
    try:
        port = Port(gadget.udc)
        port.look()
        disk = disk_of("SOAKDUMMY1", 20)
        assert disk is not None
        before = port.look()
        assert (before.state, before.speed_mbps in (480.0, 5000.0)) == ("configured", True)
        descriptor = os.open(disk, os.O_RDWR | os.O_EXCL)
        try:
            os.pwrite(descriptor, b"\x5a" * 8192, 1 << 20)
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        after = port.look()
        assert after.written_bytes is not None
        assert after.read_bytes  # it looked for partitions at least
        assert after.written_bytes - (before.written_bytes or 0) == 8192
        assert image.read_bytes()[1 << 20 : (1 << 20) + 8192] == b"\x5a" * 8192
    finally:
        gadget.close()
    assert not (CONFIGFS / "soak-stand-in").exists()
