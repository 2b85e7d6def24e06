"""What a capture's child process runs: open the card, look at pictures, tell what was seen.

A driver that hangs in the kernel hangs this process alone, and the parent kills it. Heartbeats
come from the thread that reads, so they stop when it hangs.
"""

import contextlib
import os
import pickle
import queue
import signal
import sys
import threading
from typing import IO, Any

from soak.bench.child_end import receive
from soak.errors import told_of
from soak.words import msg

NICE = 5
"""All captures of a host are equally patient, and more so than the guard of a unit's power."""
_END_LIMIT_S = 1.0
"""The card has so long to be closed, s; then the process ends all the same. Our own choice."""


class _Orders:
    """What the parent says, and that it is gone; read by a thread of its own."""

    def __init__(self, pipe: IO[bytes]) -> None:
        self._orders: queue.Queue[Any] = queue.Queue()
        self.ended = threading.Event()
        threading.Thread(target=self._read, args=(pipe,), daemon=True).start()

    def next(self) -> Any:
        """Return the next order; what cannot be read is raised."""
        order = self._orders.get()
        if isinstance(order, Exception):
            raise order
        return order[1]

    def _read(self, pipe: IO[bytes]) -> None:
        try:
            while True:
                order = receive(pipe)
                if order[0] == "path":
                    sys.path[:] = order[1]  # what the parent can import can be imported here
                else:
                    self._orders.put(order)
        except EOFError:
            pass
        except Exception as bug:
            self._orders.put(bug)
            with contextlib.suppress(Exception):
                pipe.read()
        self.ended.set()
        threading.Event().wait(_END_LIMIT_S)  # the card is closed meanwhile, if that does not hang
        os._exit(0)


def main() -> None:
    """Serve one parent until it is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the operator's Ctrl-C is for the parent
    if hasattr(os, "nice"):
        os.nice(NICE)
    # What a library prints must not get into the pipe.
    pipe = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    orders = _Orders(sys.stdin.buffer)

    # The parent's words need these; imported here so that the path may be told first.
    from soak.bench.capture.watch import Outbox
    from soak.bench.capture.words import Word

    outbox = Outbox(pipe)
    try:
        _serve(orders, outbox)
    except Exception as bug:
        what = " ".join(f"{type(bug).__name__}: {bug}".split())
        outbox.put(Word("broke", why=msg("looking at the picture broke off: {bug}", bug=what)))
    outbox.flush(_END_LIMIT_S)
    os._exit(0)  # a thread that hangs must not keep the process


def _serve(orders: _Orders, outbox: Any) -> None:
    import cv2

    from soak.bench.capture.video_stream import CannotOpen
    from soak.bench.capture.watch import Watching
    from soak.bench.capture.words import Word

    cv2.setNumThreads(1)  # captures of one host share its cores fairly: one thread decodes each
    job = orders.next()
    outbox.put(Word("busy"))
    try:
        stream = job.opener(job.asked)
    except CannotOpen as fault:
        outbox.put(Word("cannot open", why=told_of(fault)))
        return
    outbox.put(Word("opened", identity=dict(stream.identity)))
    watching = Watching(job, pickle.loads(orders.next()), stream, outbox=outbox, ended=orders.ended)
    watching.run()


if __name__ == "__main__":
    main()
