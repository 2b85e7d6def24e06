"""From looks at the device side of a port to what a unit did with the stick. Pure."""

from dataclasses import asdict, dataclass, replace
from typing import Any, Literal

from soak.bench.stand_in.gadget_state import Glimpse

SETTLES_S = 2.0
"""A unit that resets a stick has configured it again within so long; after that it is gone. USB 2.0
gives a device 10 ms to recover from a reset and a host no limit at all: our own choice."""

_UNDERWAY = frozenset({"attached", "powered", "default", "addressed"})


@dataclass(frozen=True, slots=True)
class Status:
    """What a unit is doing with the stick, and has done since it was plugged.

    Attributes
    ----------
    at : str
        `seen`: the unit has configured the stick; `gone`: it has not.
    udc : str
        The port's own word for it.
    speed_mbps : float or None
        Negotiated speed while it is seen.
    enumerations, resets : int
        How often it was configured, and how often of these after a reset with the stick plugged.
    read_bytes, written_bytes : int or None
        What the unit read and wrote; None where the kernel does not count it.
    read_here_bytes : int or None
        What of it the unit read since it last configured the stick.
    since_s : float
        When `at` began, by the clock of who looked.
    """

    at: Literal["seen", "gone"]
    udc: str
    speed_mbps: float | None
    enumerations: int
    resets: int
    read_bytes: int | None
    written_bytes: int | None
    read_here_bytes: int | None
    since_s: float

    def as_json(self, now_s: float) -> dict[str, Any]:
        """Return it as plain JSON, with an age in place of a time: clocks need not agree."""
        plain = asdict(self)
        plain["ago_s"] = round(max(0.0, now_s - plain.pop("since_s")), 3)
        return plain


class GadgetWatch:
    """Count what the unit does.

    Parameters
    ----------
    may_sleep : bool
        Whether the unit puts an idle port to sleep; else a port without signals (`suspended`) is
        taken for unplugged or off, which on many controllers is all that can be known.
    """

    def __init__(self, *, may_sleep: bool = False) -> None:
        self._may_sleep = may_sleep
        self._status: Status | None = None
        self._read_before_bytes = 0
        self._left_s: float | None = None

    def take(self, t_s: float, seen: Glimpse) -> Status:
        """Take a look made at `t_s`; return what is known now."""
        before = self._status or Status(
            "gone",
            seen.state,
            None,
            enumerations=0,
            resets=0,
            read_bytes=None,
            written_bytes=None,
            read_here_bytes=None,
            since_s=t_s,
        )
        read = seen.read_bytes
        written = seen.written_bytes
        now = replace(before, udc=seen.state, read_bytes=read, written_bytes=written)
        now = replace(now, read_here_bytes=None)
        if seen.state == "configured":
            now = self._configured(t_s, now, seen, before.read_bytes or 0)
        elif now.at == "seen" and not (seen.state == "suspended" and self._may_sleep):
            now = self._leaving(t_s, now, seen)
        if now.read_bytes is not None:
            here = max(0, now.read_bytes - self._read_before_bytes) if now.at == "seen" else 0
            now = replace(now, read_here_bytes=here)
        self._status = now
        return now

    def _configured(self, t_s: float, now: Status, seen: Glimpse, read_bytes: int) -> Status:
        reset = now.at == "seen" and self._left_s is not None
        again = now.at == "gone" or reset
        self._left_s = None
        if again:
            self._read_before_bytes = read_bytes
        return replace(
            now,
            at="seen",
            speed_mbps=seen.speed_mbps,
            enumerations=now.enumerations + again,
            resets=now.resets + reset,
            since_s=t_s if now.at == "gone" else now.since_s,
        )

    def _leaving(self, t_s: float, now: Status, seen: Glimpse) -> Status:
        """Say gone at once without signals; else give the unit time to configure it again."""
        left_s = t_s if self._left_s is None else self._left_s
        if seen.state in _UNDERWAY and t_s - left_s < SETTLES_S:
            self._left_s = left_s
            return now
        self._left_s = None
        return replace(now, at="gone", speed_mbps=None, since_s=left_s)
