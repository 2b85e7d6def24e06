"""What the device side of a USB port knows: its state, its speed, and what the unit moved."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

UDCS = Path("/sys/class/udc")
PROC = Path("/proc")
_THREAD = "file-storage"
"""Name of the kernel's thread that serves a stick; all that the unit reads passes through it."""

SPEEDS_MBPS: Mapping[str, float] = MappingProxyType(
    {
        "low-speed": 1.5,
        "full-speed": 12.0,
        "high-speed": 480.0,
        "super-speed": 5000.0,
        "super-speed-plus": 10000.0,
    }
)
"""Linux, drivers/usb/common/common.c, `speed_names`; `UNKNOWN` while nothing is connected."""


@dataclass(frozen=True, slots=True)
class Glimpse:
    """One look at the port.

    Attributes
    ----------
    state : str
        `not attached`, `attached`, `powered`, `default`, `addressed`, `configured`, `suspended`
        (USB 2.0, section 9.1; Linux, Documentation/ABI/stable/sysfs-class-udc).
    speed_mbps : float or None
        Negotiated speed; None while there is none.
    read_bytes, written_bytes : int or None
        What the unit read and wrote since the stick was plugged; None where the kernel does not
        count it.
    """

    state: str
    speed_mbps: float | None
    read_bytes: int | None = None
    written_bytes: int | None = None


class Port:
    """The device side of one port.

    Parameters
    ----------
    udc : str
        Its name.
    """

    def __init__(self, udc: str, udcs: Path = UDCS, proc: Path = PROC) -> None:
        self._folder = udcs / udc
        self._proc = proc
        self._thread: Path | None = None
        self._zero: tuple[int, int] | None = None

    def look(self) -> Glimpse:
        """Look once.

        Raises
        ------
        OSError
            If the port is no longer there.
        """
        state = (self._folder / "state").read_text(encoding="ascii").strip()
        speed = (self._folder / "current_speed").read_text(encoding="ascii").strip()
        read, written = self._moved()
        return Glimpse(state, SPEEDS_MBPS.get(speed), read, written)

    def _moved(self) -> tuple[int | None, int | None]:
        """Return what the serving thread read from the image and wrote to it.

        References
        ----------
        Linux, Documentation/filesystems/proc.rst, section 3.3, /proc/<pid>/io: rchar and wchar
        count what passes read and write calls, cached or not.
        """
        if self._thread is None:
            self._thread = self._find_thread()
        if self._thread is None:
            return None, None
        try:
            text = (self._thread / "io").read_text(encoding="ascii")
            fields = dict(line.split(": ") for line in text.splitlines())
            now = (int(fields["rchar"]), int(fields["wchar"]))
        except (OSError, ValueError, KeyError):
            self._thread = None
            return None, None
        if self._zero is None:
            self._zero = now
        return now[0] - self._zero[0], now[1] - self._zero[1]

    def _find_thread(self) -> Path | None:
        """Return the newest serving thread: ours, as the stick was plugged last."""
        threads = []
        for comm in self._proc.glob("[0-9]*/comm"):
            try:
                if comm.read_text(encoding="ascii", errors="replace").strip() == _THREAD:
                    threads.append(int(comm.parent.name))
            except OSError:
                continue  # it ended meanwhile
        return self._proc / str(max(threads)) if threads else None
