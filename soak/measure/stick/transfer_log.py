"""Transfers put together into a few readings, so that a night of them stays small.

A stick moves hundreds of chunks a second or one in a minute. The readings of one window (a second
or so) say as much as is judged: the longest chunk, the speed over the window, all wrong bytes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from soak.quantities import Quantity
from soak.records import Reading

WAITING_WORTH_TELLING_S = 0.01
"""Less waiting for a processor explains no late read. Our own choice."""


@dataclass(slots=True)
class _Window:
    since_s: float
    read_bytes: int = 0
    read_s: float = 0.0
    written_bytes: int = 0
    write_s: float = 0.0
    longest_s: float = 0.0
    latest_read_s: float = 0.0
    latest_waited_s: float = 0.0
    damaged_bytes: int = 0


class TransferLog:
    """Gathers what single transfers took, and says it as readings.

    Parameters
    ----------
    stick : str
        Name of the stick, the source of the readings.
    every_s : float
        Readings come at most so often, s; wrong bytes and stalls at once.
    stall_s : float
        A transfer longer than this is a stall, s.
    """

    def __init__(self, stick: str, every_s: float, stall_s: float) -> None:
        self._stick = stick
        self._every_s = every_s
        self._stall_s = stall_s
        self._window: _Window | None = None

    def quantities(self) -> Sequence[Quantity]:
        """Return what is read: speeds in B/s, longest durations in s, wrong and written bytes."""
        units = {"speed": "B/s", "write_speed": "B/s", "chunk_s": "s", "damaged": "B"}
        units |= {"written": "B", "read_s": "s", "read_wait_s": "s"}
        return [Quantity(self._name(what), unit, self._stick) for what, unit in units.items()]

    def read(
        self,
        t_s: float,
        length_bytes: int,
        took_s: float,
        damaged_bytes: int,
        waited_s: float = 0.0,
    ) -> list[Reading]:
        """Take a read that ended at `t_s`; return the readings that are due.

        Parameters
        ----------
        waited_s : float
            For how long of it something here waited for a processor, s. Of a window that read is
            told which took longest without that.
        """
        window = self._open(t_s)
        window.read_bytes += length_bytes
        window.read_s += took_s
        waited_s = min(took_s, waited_s)
        if took_s - waited_s >= window.latest_read_s - window.latest_waited_s:
            window.latest_read_s = took_s
            window.latest_waited_s = waited_s
        window.damaged_bytes += damaged_bytes
        return self._after(t_s, took_s, at_once=damaged_bytes > 0)

    def wrote(self, t_s: float, length_bytes: int, took_s: float) -> list[Reading]:
        """Take a write that ended at `t_s`; return the readings that are due."""
        window = self._open(t_s)
        window.written_bytes += length_bytes
        window.write_s += took_s
        return self._after(t_s, took_s)

    def failed(self, t_s: float, took_s: float, damaged_bytes: int = 0) -> list[Reading]:
        """Take a transfer that failed: it counts for stalls and wrong bytes, not for speed."""
        self._open(t_s).damaged_bytes += damaged_bytes
        return self._after(t_s, took_s, at_once=damaged_bytes > 0)

    def flush(self, t_s: float) -> list[Reading]:
        """Return what is left."""
        window = self._window
        self._window = None
        return [] if window is None else list(self._readings(window, t_s))

    def _open(self, t_s: float) -> _Window:
        if self._window is None:
            self._window = _Window(t_s)
        return self._window

    def _after(self, t_s: float, took_s: float, *, at_once: bool = False) -> list[Reading]:
        window = self._open(t_s)
        window.longest_s = max(window.longest_s, took_s)
        due = at_once or took_s > self._stall_s or t_s - window.since_s >= self._every_s
        return self.flush(t_s) if due else []

    def _readings(self, window: _Window, t_s: float) -> Iterator[Reading]:
        if window.read_s > 0:
            yield Reading(t_s, self._name("speed"), window.read_bytes / window.read_s)
            yield Reading(t_s, self._name("read_s"), window.latest_read_s)
            if window.latest_waited_s >= WAITING_WORTH_TELLING_S:
                yield Reading(t_s, self._name("read_wait_s"), window.latest_waited_s)
        if window.write_s > 0:
            yield Reading(t_s, self._name("write_speed"), window.written_bytes / window.write_s)
        if window.written_bytes:
            yield Reading(t_s, self._name("written"), float(window.written_bytes))
        if window.read_bytes or window.damaged_bytes:
            yield Reading(t_s, self._name("damaged"), float(window.damaged_bytes))
        yield Reading(t_s, self._name("chunk_s"), window.longest_s)

    def _name(self, what: str) -> str:
        return f"transfer.{self._stick}.{what}"
