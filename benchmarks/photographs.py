"""What it takes to keep a photograph, and to refuse one: .venv/bin/python FILE (Linux)."""

import struct
import subprocess
import sys
import time
import zlib
from pathlib import Path

import cv2
import numpy as np

from soak.measure.photograph import prepared

MEGAPIXELS_12 = (3000, 4000)
MEGAPIXELS_64 = (8000, 8000)
MEGAPIXELS_200 = (10_000, 20_000)


def noise() -> bytes:
    """Return 12 megapixels of noise: as large a JPEG as such a photograph gets."""
    draw = np.random.default_rng(1)
    return jpeg(draw.integers(0, 255, (*MEGAPIXELS_12, 3), np.uint8))


def jpeg(picture: np.ndarray, *how: int) -> bytes:
    return cv2.imencode(".jpg", picture, how)[1].tobytes()


def black(size: tuple[int, int]) -> np.ndarray:
    return np.zeros((*size, 3), np.uint8)


def scans() -> bytes:
    """Return 64 megapixels that are gone over as often as is allowed."""
    many = jpeg(black(MEGAPIXELS_64), cv2.IMWRITE_JPEG_PROGRESSIVE, 1)
    return many[:-2] + many[many.rindex(b"\xff\xda") : -2] * 50 + many[-2:]


def gigapixel() -> bytes:
    """Return a PNG that claims 1 024 megapixels and unpacks to 3 GB."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        crc = struct.pack(">I", zlib.crc32(kind + body))
        return struct.pack(">I", len(body)) + kind + body + crc

    packs = zlib.compressobj(9)
    data = b"".join(packs.compress(bytes(1 << 20)) for _ in range(3000)) + packs.flush()
    head = struct.pack(">IIBBBBB", 8000, 8000, 8, 2, 0, 0, 0)
    parts = (chunk(b"IHDR", head), chunk(b"IDAT", data), chunk(b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


CASES = {
    "12 megapixels, JPEG, noise": noise,
    "64 megapixels, JPEG": lambda: jpeg(black(MEGAPIXELS_64)),
    "64 megapixels, PNG": lambda: cv2.imencode(".png", black(MEGAPIXELS_64))[1].tobytes(),
    "64 megapixels, 60 scans": scans,
    "200 megapixels, JPEG": lambda: jpeg(np.zeros(MEGAPIXELS_200, np.uint8)),
    "64 megapixels, PNG of 3 GB": gigapixel,
}


def main() -> None:
    """Make each photograph in one process and keep it in another, whose memory is told."""
    if len(sys.argv) > 1:
        content = sys.stdin.buffer.read()
        began_s = time.process_time()
        try:
            told = f"{len(prepared(content)) / 1e3:.0f} kB"
        except ValueError as fault:
            told = str(fault)
        took_s = time.process_time() - began_s
        status = Path("/proc/self/status").read_text(encoding="ascii")
        largest = int(status.partition("VmHWM:")[2].split()[0]) / 1024
        print(f"{len(content) / 1e6:6.1f} MB  {took_s:5.2f} s  {largest:4.0f} MB memory  {told}")
        return
    for name, made in CASES.items():
        print(f"{name:<28}", end=" ", flush=True)
        subprocess.run([sys.executable, __file__, "one"], input=made(), check=True)


if __name__ == "__main__":
    main()
