"""Looking through what may have no end: progress while it lasts, and Ctrl-C as the end of it."""

import signal
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from types import FrameType

from soak.quantities import show_duration
from soak.roles import Picture

TOLD_EVERY_S = 2.0


def told(pictures: Iterable[Picture], tell: Callable[[str], None]) -> Iterator[Picture]:
    """Yield pictures, and tell every two seconds how far that has come."""
    told_s = time.monotonic()
    for number, picture in enumerate(pictures, start=1):
        if time.monotonic() - told_s >= TOLD_EVERY_S:
            told_s = time.monotonic()
            tell(f"{number} pictures, up to {show_duration(picture.t_s)}")
        yield picture


def until_stopped(pictures: Iterable[Picture]) -> Iterator[Picture]:
    """Yield pictures until they end or the operator says so; what came before still counts.

    The first Ctrl-C ends it with the picture that comes next; another one ends the program.
    """
    with _stopping() as stopped:
        for picture in pictures:
            if stopped():
                return
            yield picture


@contextmanager
def _stopping() -> Iterator[Callable[[], bool]]:
    asked = False

    def ask(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        asked = True
        signal.signal(signal.SIGINT, before)

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield lambda: asked
    finally:
        signal.signal(signal.SIGINT, before)
