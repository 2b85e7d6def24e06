"""The far end of a serial cable: a pseudo terminal whose other end plays an instrument."""

import os
import select
import threading
import tty
from collections.abc import Callable, Sequence
from pathlib import Path

Answer = Callable[[bytes], tuple[int, bytes]]
"""Given what came in and was not understood yet: how many bytes are a request, and the answer.

No bytes: half a request came; wait for more.
"""


def line_by_line(answer: Callable[[bytes], bytes]) -> Answer:
    """Answer each line, line end included, by itself."""

    def take(came: bytes) -> tuple[int, bytes]:
        length = came.find(b"\n") + 1
        return length, answer(came[:length]) if length else b""

    return take


class SerialPeer:
    """An instrument on a pseudo terminal, named by a link that survives plugging out and in.

    Parameters
    ----------
    link : Path
        Where the link to the port is made.
    answer : callable
        Says what is a request and what is answered to it.
    cooked : bool
        Leave the terminal as the system makes it: it echoes until somebody sets it raw.
    """

    def __init__(
        self, link: Path, answer: Answer = lambda came: (0, b""), cooked: bool = False
    ) -> None:
        self.link, self._answer, self._cooked = link, answer, cooked
        self.heard: list[bytes] = []
        self.plug()

    def plug(self) -> None:
        """Plug it in (again); the terminal's name may be another one then."""
        self._master, self._slave = os.openpty()
        if not self._cooked:
            tty.setraw(self._master)
        self.device = os.ttyname(self._slave)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(self.device)
        self._wake_out, self._wake_in = os.pipe()
        self._thread = threading.Thread(target=self._play, daemon=True)
        self._thread.start()

    def unplug(self) -> None:
        """Pull it out: the port hangs up and its name is gone."""
        os.write(self._wake_in, b"x")
        self._thread.join()
        self.link.unlink(missing_ok=True)
        for descriptor in (self._master, self._slave, self._wake_in, self._wake_out):
            os.close(descriptor)
        self._master = -1

    def say(self, data: bytes) -> None:
        """Send something unasked."""
        os.write(self._master, data)

    def __enter__(self) -> "SerialPeer":
        return self

    def __exit__(self, *_: object) -> None:
        if self._master >= 0:
            self.unplug()

    def _play(self) -> None:
        came = b""
        while True:
            readable, _, _ = select.select([self._master, self._wake_out], [], [])
            if self._wake_out in readable:
                return
            came += os.read(self._master, 4096)
            length, answer = self._answer(came)
            while length:
                self.heard.append(came[:length])
                came = came[length:]
                os.write(self._master, answer)
                length, answer = self._answer(came) if came else (0, b"")


class Play:
    """Answer by a list of (sent, answered); what does not come as listed is kept in `wrong`.

    Parameters
    ----------
    steps : sequence of (bytes, bytes)
        An empty answer is silence.
    repeats : bool
        Whether the last step holds as often as it is asked for.
    """

    def __init__(self, steps: Sequence[tuple[bytes, bytes]], repeats: bool = False) -> None:
        self.left, self.wrong = list(steps), list[bytes]()
        self._again = steps[-1:] if repeats else ()

    def __call__(self, came: bytes) -> tuple[int, bytes]:
        sent, answered = self.left[0] if self.left else (b"", b"")
        if sent and came.startswith(sent):
            self.left = self.left[1:] or [*self._again]
            return len(sent), answered
        if sent.startswith(came):
            return 0, b""
        self.wrong.append(came)
        return len(came), b""
