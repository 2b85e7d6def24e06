"""Soak time: seconds since the soak began, as trio's own clock.

`trio.current_time()` inside a soak is soak time, so every sleep and time limit is in it.
The boot clock counts time in which the host slept; the leaping clock jumps to the next
deadline as soon as every task waits, so that hours of a simulated soak take seconds.
"""

import math
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import trio

_LONGEST_WAIT_S = 1.0
"""The kernel's wait does not count suspended time, so no single wait is longer than this."""


def boot_time_s() -> float:
    """Return seconds since the host booted, suspended time included where the system counts it."""
    boot_clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if boot_clock is None else time.clock_gettime(boot_clock)


def boot_id() -> str:
    """Return an identity of this boot of the host; empty where the system has none."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    except OSError:
        return ""


class SoakClock(trio.abc.Clock):
    """Base of the two clocks; `now_s` is soak time in s, `utc` the wall clock belonging to it."""

    leaping: bool = False

    def current_time(self) -> float:
        return self.now_s()

    def now_s(self) -> float:
        """Return soak time in s."""
        raise NotImplementedError

    def utc(self) -> datetime:
        """Return the wall clock's time, in UTC."""
        raise NotImplementedError


class BootClock(SoakClock):
    """Soak time from the boot clock.

    Parameters
    ----------
    begins_at_s : float
        Soak time at which this session begins: 0 for a first start, later for a resumed soak.
    """

    def __init__(self, begins_at_s: float = 0.0) -> None:
        self._origin_s = boot_time_s() - begins_at_s

    def start_clock(self) -> None:
        pass

    def now_s(self) -> float:
        return boot_time_s() - self._origin_s

    def utc(self) -> datetime:
        return datetime.now(UTC)

    def deadline_to_sleep_time(self, deadline: float) -> float:
        return min(_LONGEST_WAIT_S, deadline - self.now_s())


class LeapingClock(SoakClock):
    """Soak time that leaps to the next deadline when every task waits.

    trio asks a clock how long to sleep only when no task can run, so answering "no time at all,
    it is already then" is the whole of the leap. Nothing may wait for the world outside the
    event loop under this clock: its time limits would fire at once.
    """

    leaping = True

    def __init__(self, begins_at_s: float = 0.0, starts_utc: datetime | None = None) -> None:
        self._now_s = begins_at_s
        begins = starts_utc or datetime(2026, 1, 5, 21, 0, tzinfo=UTC)
        self._utc_at_zero = begins - timedelta(seconds=begins_at_s)

    def start_clock(self) -> None:
        pass

    def now_s(self) -> float:
        return self._now_s

    def utc(self) -> datetime:
        return self._utc_at_zero + timedelta(seconds=self._now_s)

    def sleep_host(self, for_s: float) -> None:
        """Let the simulated host sleep: boot time goes on and nobody runs meanwhile."""
        self._now_s += for_s

    def deadline_to_sleep_time(self, deadline: float) -> float:
        if math.isinf(deadline):
            return 0.05  # nothing is due: wait for the world outside (a signal, the end of a run)
        self._now_s = max(self._now_s, deadline)
        return 0.0


def settle_order(seed: int) -> None:
    """Let tasks that wake at one simulated moment run in an order drawn from `seed`.

    trio shuffles such tasks on purpose, so that nobody relies on an order. Nobody here does, but
    the same seed shall give the same journal, byte by byte. trio keeps the switch private (it is
    there for property tests): where it is gone one day, only the order of records of one moment
    varies.
    """
    from trio._core import _run

    shuffle = getattr(_run, "_r", None)
    if shuffle is not None and hasattr(_run, "_ALLOW_DETERMINISTIC_SCHEDULING"):
        _run._ALLOW_DETERMINISTIC_SCHEDULING = True  # type: ignore[misc]  # a switch, not a constant
        shuffle.seed(seed)
