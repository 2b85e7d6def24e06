"""One open serial port, used by one thread at a time: the only file that imports pyserial's port.

Everything here blocks for at most `READ_S` (writing: the write limit) and is called in a thread.
"""

import contextlib
import hashlib
import os
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Literal

from soak.bench.serial.names import Adapter
from soak.errors import told_of
from soak.words import Message, msg

READ_S = 0.25
"""Longest wait for the first byte: so long an abandoned thread may still hold the port. Our own
choice."""

Parity = Literal["N", "E", "O"]


class WireFault(OSError):
    """Report a port that cannot be opened or has vanished; says what to do."""


class Wire:
    """An open port, and in `came` what came in and nobody has taken out yet.

    Parameters
    ----------
    adapter : Adapter
        The port to open.
    baud, parity, stop_bits
        How it speaks; always 8 data bits.

    Raises
    ------
    WireFault
        If it cannot be opened, or someone else owns it.
    """

    def __init__(self, adapter: Adapter, baud: int, parity: Parity, stop_bits: int) -> None:
        import serial

        self.adapter = adapter
        self._one_at_a_time = threading.Lock()
        self.came = bytearray()
        self._closed = False
        self._lock_file = _lock(adapter)
        try:
            self._port = serial.Serial(
                adapter.device,
                baud,
                parity=parity,
                stopbits=stop_bits,
                timeout=READ_S,
                write_timeout=2.0,
                exclusive=None if os.name == "nt" else True,
            )
        except _broken() as fault:
            self._lock_file.close()
            raise WireFault(_why_not_open(adapter.device, fault)) from None

    def send(self, data: bytes) -> None:
        """Write all of `data`.

        Raises
        ------
        WireFault
            If the port has vanished or takes nothing.
        """
        with self._one_at_a_time, self._vanishing():
            self._port.write(data)
            self._port.flush()

    def more(self) -> None:
        """Wait at most `READ_S` for bytes and add them to `came`.

        They are not returned, so that nothing is lost when the caller was cancelled meanwhile.

        Raises
        ------
        WireFault
            If the port has vanished.
        """
        with self._one_at_a_time, self._vanishing():
            self.came += self._port.read(1)
            waiting = self._port.in_waiting
            if waiting:
                self.came += self._port.read(waiting)

    def forget(self) -> None:
        """Throw away what came in.

        Raises
        ------
        WireFault
            If the port has vanished.
        """
        with self._one_at_a_time, self._vanishing():
            self.came.clear()
            self._port.reset_input_buffer()

    def close(self) -> None:
        """Close the port and give up the lock; twice is safe."""
        self._closed = True
        self._lock_file.close()  # first: a thread that hangs must not keep the lock
        with contextlib.suppress(*_broken()):
            self._port.cancel_read()
        with self._one_at_a_time, contextlib.suppress(*_broken()):
            self._port.close()

    @contextlib.contextmanager
    def _vanishing(self) -> Iterator[None]:
        if self._closed:
            raise WireFault(msg("{device} is closed", device=self.adapter.device))
        try:
            yield
        except _broken() as fault:
            raise WireFault(
                msg(
                    "{device} has vanished ({why}); plug it in",
                    device=self.adapter.device,
                    why=told_of(fault),
                )
            ) from None


def _broken() -> tuple[type[Exception], ...]:
    """Return what a vanished adapter raises, depending on the call that noticed it."""
    if os.name == "nt":
        return (OSError, TypeError)
    import termios

    return (OSError, termios.error, TypeError)  # TypeError: pyserial reading a closed port


def _why_not_open(device: str, fault: Exception) -> Message:
    text = str(fault)
    number = getattr(fault, "errno", None)
    if "exclusively lock" in text or number == 16:
        return msg("{device} is in use by another program; end it", device=device)
    if number == 13:
        return msg(
            "no permission to open {device}; `soak trouble` says what lets you",
            device=device,
        )
    if number == 2:
        return msg("there is no port {device}; plug it in or correct the name", device=device)
    if number == 25 or "configure port" in text:
        return msg("{device} is not a serial port; correct the name", device=device)
    why = getattr(fault, "strerror", None) or text
    return msg("{device} cannot be opened: {why}", device=device, why=str(why))


def _lock(adapter: Adapter) -> IO[bytes]:
    """Take the adapter for this process.

    The system lets root open a port twice, and a port's own lock is lost when another program
    ignores it; a lock file named after the *identity* holds across names and users.
    """
    key = hashlib.sha256(adapter.key.encode()).hexdigest()[:16]
    folder = Path("/run/lock")
    if not os.access(folder, os.W_OK):
        folder = Path(tempfile.gettempdir())
    path = folder / f"soak-serial-{key}.lock"
    no_links = getattr(os, "O_NOFOLLOW", 0)
    try:
        try:
            opened = os.open(path, os.O_RDWR | os.O_CREAT | no_links, 0o666)
        except PermissionError:  # another user's file: enough to lock, not to write
            opened = os.open(path, os.O_RDONLY | no_links)
    except OSError as fault:
        raise WireFault(
            msg("cannot lock {device}: {why}", device=adapter.device, why=told_of(fault))
        ) from None
    held = os.fdopen(opened, "rb", buffering=0)
    if os.name != "nt":
        import fcntl

        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            owner = held.read(20).decode("ascii", "replace").strip()
            held.close()
            raise WireFault(
                msg(
                    "{device} is in use by another soak (process {value}); end it",
                    device=adapter.device,
                    value=owner or "unknown",
                )
            ) from None
    with contextlib.suppress(OSError):
        os.ftruncate(opened, 0)
        os.write(opened, str(os.getpid()).encode())
    return held
