"""Pictures of a few kilobytes that claim to be enormous, sent to whoever checks a report."""

import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest

from soak import MOST_PIXELS

MOST_BYTES = 512 << 20
MEASURED = """
import sys
from pathlib import Path
from soak.cli.main import main
told = Path(sys.argv.pop(1))
try:
    main()
finally:
    told.write_text(Path("/proc/self/status").read_text())
"""
"""The program, which leaves behind how much memory it ever took (proc(5), VmHWM): what the system
tells of a child that has ended counts the test's own memory, too, from before the child was it."""


def black_png(side: int) -> bytes:
    """Return a black square PNG as its standard lays it out (ISO/IEC 15948, 5.3 and 11.2)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    packed = zlib.compressobj()
    rows = b"".join(packed.compress(bytes(side + 1)) for _ in range(side)) + packed.flush()
    header = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read as Linux has it")
@pytest.mark.parametrize("side", [int(MOST_PIXELS**0.5), 30_000])
def test_a_small_file_that_claims_to_be_huge_takes_little_memory(tmp_path, side):
    """Just as large as is taken, and larger: one sentence each, no code found."""
    sent = tmp_path / "listing.png"
    sent.write_bytes(black_png(side))
    told = tmp_path / "memory.txt"
    words = [sys.executable, "-c", MEASURED, str(told), "--bench", str(tmp_path), "verify"]
    done = subprocess.run(
        [*words, str(sent)], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False
    )
    said = done.stdout
    assert (done.returncode, said.count(b"\n")) == (4, 1), said
    assert b"no code can be read in it" in said
    most_kib = int(told.read_text().split("VmHWM:")[1].split()[0])
    assert most_kib << 10 < MOST_BYTES
