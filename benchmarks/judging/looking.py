"""Have the program look at a clip, twice side by side; packets are kept only in between."""

import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from queue import Queue
from typing import Any

from judging.content import Told
from soak.desk.proof.recordings import Found
from soak.measure.video.lookthrough import look_over
from soak.measure.video.watcher import WatcherSettings
from soak.roles import Picture

FINE_EVERY = (8, 0)
_WAITING = 6
Row = tuple[int, int, str]
"""First and last picture, kind."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What one look said, and the processor time of its thread, s."""

    rows: Sequence[Row]
    cpu_s: float


def settings_for(told: Told, size: tuple[int, int], taught: Sequence[bytes], fine: int) -> Any:
    """Return what the program is asked, with what was told of the content as far as it takes it."""
    return WatcherSettings(
        moving=True,
        size=size,
        taught=tuple(taught),
        fine_every=fine,
        frozen_after_s=max(WatcherSettings().frozen_after_s, told.longest_still_s),
        longest_black_s=told.longest_black_s,
    )


def looks(
    pictures: Iterable[Sequence[Picture]], settings: Sequence[tuple[int, Any]], rate_hz: float
) -> list[Looked]:
    """Look at pictures that come in several ways: each look at one way, by its place."""
    queues: list[Queue[Picture | None]] = [Queue(_WAITING) for _ in settings]
    found: list[Looked | BaseException | None] = [None] * len(settings)

    def look(place: int) -> None:
        stream = _from(queues[place])
        began_s = time.thread_time()
        try:
            shown = look_over(stream, settings[place][1], 1 / rate_hz)
            rows = [(first, last, kind) for _, first, last, kind in Found("", shown, ()).rows()]
            found[place] = Looked(rows, time.thread_time() - began_s)
        except BaseException as fault:  # told to whoever asked, below
            found[place] = fault
            for _ in stream:
                pass

    threads = [threading.Thread(target=look, args=(place,)) for place in range(len(settings))]
    for thread in threads:
        thread.start()
    try:
        for several in pictures:
            for queue, (way, _) in zip(queues, settings, strict=True):
                queue.put(several[way])
    finally:
        for queue in queues:
            queue.put(None)
        for thread in threads:
            thread.join()
    return [_or_raise(one) for one in found]


def _from(queue: "Queue[Picture | None]") -> Iterator[Picture]:
    while (picture := queue.get()) is not None:
        yield picture


def _or_raise(one: Looked | BaseException | None) -> Looked:
    if isinstance(one, Looked):
        return one
    raise one if one is not None else RuntimeError("a look ended without a word")
