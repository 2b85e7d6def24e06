"""Whether somebody sets this host's clock right."""

import ctypes
import sys
from pathlib import Path

_TIMEX_BYTES = 256
"""Room for the kernel's `struct timex`, B. Decides nothing: the struct is 208 B."""
_STATUS_AT = 40
"""Where its `status` stands on a 64-bit system, B (Linux, include/uapi/linux/timex.h)."""
_UNSYNCHRONISED = 0x0040
"""STA_UNSYNC: nobody keeps the clock (same file)."""


def is_set_by_a_server() -> bool | None:
    """Return whether the kernel was told that its clock is right; None where it does not say.

    References
    ----------
    adjtimex(2): called with `modes` 0 it changes nothing.
    """
    if sys.platform != "linux" or ctypes.sizeof(ctypes.c_long) != 8:
        return None
    timex = ctypes.create_string_buffer(_TIMEX_BYTES)
    if ctypes.CDLL(None).adjtimex(timex) < 0:
        return None
    status = int.from_bytes(timex.raw[_STATUS_AT : _STATUS_AT + 4], sys.byteorder)
    return not status & _UNSYNCHRONISED


def keeps_time_without_power(root: Path) -> bool:
    """Return whether the host has a clock with a battery of its own."""
    return any((root / "sys/class/rtc").glob("rtc*"))
