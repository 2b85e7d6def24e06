"""From what a stand-in says to what the link is seen to be. Pure."""

from soak.bench.stand_in.gadget_watch import Status
from soak.marks import StateSaid, StickSaid, state_of
from soak.records import Reading, State
from soak.states import BLIND
from soak.words import Message

SPEED_EVERY_S = 60.0
"""A speed that stays is told so often, s. Our own choice."""
MOVED_EVERY_S = 10.0
"""What the unit read and wrote is said so often, if there was any. Our own choice."""
LOOKS_EVERY_S = 0.02
"""A change is told no more exactly than this, s: so often the kernel is looked at. Our own
choice."""


class LinkStory:
    """Say what began, from one status after another.

    Parameters
    ----------
    source : str
        Name of the link.
    """

    def __init__(self, source: str) -> None:
        self._source = source
        self._before: Status | None = None
        self._blind = False
        self._last_s = 0.0
        self._speed_s = float("-inf")
        self._moved_s = float("-inf")
        self._resets_known = 0
        self._moved: tuple[int | None, int | None] = (None, None)
        """What was said last to have been read and written."""

    def take(self, now_s: float, status: Status) -> list[State | Reading]:
        """Take a status that came at `now_s`."""
        before = self._before
        self._before = status
        news: list[State | Reading] = []
        restarted = before is not None and status.enumerations < before.enumerations
        if before is None or self._blind or restarted:
            news.append(self._state(now_s, status, 0.0))
        elif status.at != before.at:
            news.append(self._state(status.since_s, status, LOOKS_EVERY_S))
        elif status.enumerations > before.enumerations:
            news.append(self._state(now_s, status, LOOKS_EVERY_S))
        elif self._moved != _moved(status) and now_s >= self._moved_s + MOVED_EVERY_S:
            news.append(self._state(now_s, status, 0.0))
        self._blind = False
        return news + self._readings(now_s, status, restarted or before is None)

    def blind(self, now_s: float, why: Message) -> list[State | Reading]:
        """Say that the bench no longer knows."""
        if self._blind:
            return []
        self._blind = True
        self._last_s = max(self._last_s, now_s)
        return [state_of(self._last_s, self._source, BLIND, StateSaid(why=why))]

    def _state(self, t_s: float, status: Status, within_s: float) -> State:
        self._last_s = max(self._last_s, t_s)
        self._moved_s = self._last_s
        self._moved = _moved(status)
        said = StickSaid(
            stood_in=True,
            udc=status.udc,
            speed_mbps=status.speed_mbps,
            enumerations=status.enumerations,
            resets=status.resets,
            read_bytes=status.read_bytes,
            written_bytes=status.written_bytes,
            read_here_bytes=status.read_here_bytes,
        )
        return state_of(self._last_s, self._source, status.at, said, within_s=within_s)

    def _readings(self, now_s: float, status: Status, fresh: bool) -> list[State | Reading]:
        news: list[State | Reading] = []
        more = 0 if fresh else status.resets - self._resets_known
        if fresh or more > 0:
            news.append(Reading(now_s, f"{self._source}.resets", float(max(0, more))))
        self._resets_known = status.resets
        if status.speed_mbps is None:
            self._speed_s = float("-inf")
        elif now_s >= self._speed_s + SPEED_EVERY_S:
            self._speed_s = now_s
            news.append(Reading(now_s, f"{self._source}.speed", status.speed_mbps))
        return news


def _moved(status: Status) -> tuple[int | None, int | None]:
    return status.read_bytes, status.written_bytes
