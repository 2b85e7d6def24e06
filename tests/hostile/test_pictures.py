"""Pictures of a few kilobytes that claim to be enormous, sent to whoever checks a report."""

import os
import struct
import subprocess
import sys
import zlib

import pytest

from soak import MOST_PIXELS

MOST_BYTES = 512 << 20


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


@pytest.mark.parametrize("side", [int(MOST_PIXELS**0.5), 30_000])
def test_a_small_file_that_claims_to_be_huge_takes_little_memory(tmp_path, side):
    """Just as large as is taken, and larger: one sentence each, no code found."""
    sent = tmp_path / "listing.png"
    sent.write_bytes(black_png(side))
    program = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "from soak.cli.main import main; main()",
            "--bench",
            str(tmp_path),
            "verify",
            str(sent),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
    )
    assert program.stdout is not None
    said = program.stdout.read()
    program.stdout.close()
    _, status, used = os.wait4(program.pid, 0)
    program.returncode = os.waitstatus_to_exitcode(status)
    assert (program.returncode, said.count(b"\n")) == (4, 1), said
    assert b"no code can be read in it" in said
    assert used.ru_maxrss << 10 < MOST_BYTES
