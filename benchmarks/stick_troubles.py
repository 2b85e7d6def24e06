"""All that a stick can do wrong, in real soaks: is it found, counted, and charged rightly?

Run: benchmarks/stick_troubles.py [WORD ...]; with words only the rows whose names hold one of
them. Each row (tests/support/stick_troubles.py) is a whole soak of a folder and of a whole disk:
the program in real time, on a file system that is told what to do wrong once data crosses. Verdict,
kind, number of places, address and errno are held to what was done. Exit code 1 if a row is wrong.

Needs Linux, root, /dev/fuse and loop devices.
"""

import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from stick_troubles import MEDIA, TROUBLES, Found, Trouble, soaked, why_not

AT_ONCE = 4


def main(words: Sequence[str]) -> int:
    if why := why_not():
        sys.exit(why)
    rows = [
        (trouble, medium)
        for trouble in TROUBLES
        for medium in MEDIA
        if medium in trouble.media and (not words or any(word in trouble.name for word in words))
    ]
    print(
        "| the stick | spoils | medium | verdict | what the finding says |\n|---|---|---|---|---|"
    )
    wrong = 0
    with ThreadPoolExecutor(AT_ONCE) as threads:
        for (trouble, medium), found in zip(
            rows, threads.map(lambda row: played(*row), rows), strict=True
        ):
            wrong += bool(found.wrong)
            tell(trouble, medium, found)
    print(f"{len(rows)} soaks, {wrong} with something wrong")
    return 1 if wrong else 0


def played(trouble: Trouble, medium: str) -> Found:
    with tempfile.TemporaryDirectory() as folder:
        return soaked(trouble, medium, Path(folder))


def tell(trouble: Trouble, medium: str, found: Found) -> None:
    about = found.findings[trouble.rule]
    said = f"{about.because} {about.aside}".strip().replace("|", "/")
    cells = (trouble.name, trouble.does, medium, f"{trouble.rule}: {about.verdict.value}", said)
    print(f"| {' | '.join(cells)} |", flush=True)
    for line in found.wrong:
        print(f"  WRONG {line}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
