"""The far end of a serial cable: a pseudo terminal whose other end plays an instrument."""

import os
import select
import threading
import tty
from collections.abc import Callable, Sequence
from pathlib import Path

Answer = Callable[[bytes], Sequence[bytes]]
"""Given all bytes of one request, what is answered, piece by piece."""


class SerialPeer:
    """An instrument on a pseudo terminal, named by a link that survives plugging out and in.

    Parameters
    ----------
    link : Path
        Where the link to the port is made.
    answer : callable
        Called with what came in; returns b"" pieces to send, or nothing while half a request came.
    """

    def __init__(self, link: Path, answer: Answer = lambda request: ()) -> None:
        self.link, self._answer = link, answer
        self.heard: list[bytes] = []
        self.plug()

    def plug(self) -> None:
        """Plug it in (again); the terminal's name may be another one then."""
        self._master, self._slave = os.openpty()
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
        request = b""
        while True:
            readable, _, _ = select.select([self._master, self._wake_out], [], [])
            if self._wake_out in readable:
                return
            request += os.read(self._master, 4096)
            pieces = self._answer(request)
            if pieces:
                self.heard.append(request)
                request = b""
            for piece in pieces:
                os.write(self._master, piece)


class Play:
    """Answer by a list of (sent, answered); what does not come as listed is kept in `wrong`.

    Parameters
    ----------
    steps : sequence of (bytes, bytes)
        An empty answer is silence.
    """

    def __init__(self, steps: Sequence[tuple[bytes, bytes]]) -> None:
        self.left, self.wrong = list(steps), list[bytes]()

    def __call__(self, request: bytes) -> Sequence[bytes]:
        if not self.left:
            self.wrong.append(request)
            return (b"",)
        sent, answered = self.left[0]
        if request == sent:
            self.left.pop(0)
            return (answered,)
        if not sent.startswith(request):
            self.wrong.append(request)
            return (b"",)
        return ()
