"""Edit one byte at random, many times, in each kind of signed file; count what goes unnoticed.

Run: benchmarks/signed_edits.py SOAK_FOLDER [EDITS]; the folder of a soak with a signed report.
"""

import random
import shutil
import sys
import tempfile
import time
from pathlib import Path

from soak.desk.trust.verify import verify
from soak.errors import ExitCode

NAMES = ("journal.sqlite", "report.json", "report.html", "report-buyer.pdf")


def main() -> None:
    folder, edits = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 10_000
    bench = folder.parent.parent
    print(f"{'file':<18} {'bytes':>9} {'edits':>7} {'unnoticed':>9} {'ms each':>8}")
    for name in NAMES:
        with tempfile.TemporaryDirectory() as scratch:
            copy = Path(scratch) / "soak"
            shutil.copytree(folder, copy)
            unnoticed, took_s = try_edits(bench, copy / name, edits)
        size = (folder / name).stat().st_size
        print(f"{name:<18} {size:>9} {edits:>7} {unnoticed:>9} {took_s / edits * 1e3:>8.2f}")


def try_edits(bench: Path, file: Path, edits: int) -> tuple[int, float]:
    file.chmod(0o600)
    whole, chance, unnoticed = file.read_bytes(), random.Random(1), 0
    began_s = time.perf_counter()
    for _ in range(edits):
        edited = bytearray(whole)
        at = chance.randrange(len(edited))
        edited[at] = (edited[at] + chance.randrange(1, 256)) % 256
        file.write_bytes(edited)
        unnoticed += verify(bench, str(file)).code == ExitCode.DONE
    return unnoticed, time.perf_counter() - began_s


if __name__ == "__main__":
    main()
