"""What it costs to hold all kept files of a large soak to their hashes: .venv/bin/python FILE."""

import resource
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np

from soak.journal.kept import Named, faults

FILES = 2_000
"""Evidence of a night with several hundred starts, three pictures each."""
BYTES = 300_000
"""A picture of 1920 by 1080 as a capture card sends it."""


def main() -> None:
    """Write the files, hold them to their hashes, print the figures."""
    import hashlib

    draw = np.random.default_rng(5)
    with TemporaryDirectory() as temporary:
        folder = Path(temporary)
        named = []
        for number in range(FILES):
            data = draw.bytes(BYTES)
            name = f"capture-{number:06}.jpg"
            (folder / name).write_bytes(data)
            named.append(Named(name, hashlib.sha256(data).hexdigest()))
        began_s, wall_s = time.process_time(), time.perf_counter()
        wrong = faults(folder, named, alone=True)
        took_s, waited_s = time.process_time() - began_s, time.perf_counter() - wall_s
    megabytes = FILES * BYTES / 1e6
    largest = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{FILES} files, {megabytes:.0f} MB, {len(wrong)} wrong")
    print(f"{took_s:.2f} s of a processor ({megabytes / took_s:.0f} MB/s), {waited_s:.2f} s in all")
    print(f"largest memory {largest:.0f} MB")


if __name__ == "__main__":
    main()
