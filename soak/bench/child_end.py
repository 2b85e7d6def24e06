"""What a child process runs: take work from the pipe, do it, send back what came of it.

Only the standard library is imported here, and what needs no more, so that a child is up in a tenth
of a second. With each answer goes for how long this process itself stood still since it was asked:
a read that hangs in the kernel stops one of its threads, whoever stops the process stops all.
"""

import os
import pickle
import struct
import sys
import time
from contextlib import suppress
from typing import IO, Any

from soak.bench.standstill import Standstills

_LENGTH = struct.Struct("<Q")


def send(stream: IO[bytes], message: Any) -> None:
    """Write one pickled message with its length before it."""
    data = pickle.dumps(message, protocol=pickle.HIGHEST_PROTOCOL)
    stream.write(_LENGTH.pack(len(data)))
    stream.write(data)
    stream.flush()


def receive(stream: IO[bytes]) -> Any:
    """Read one message.

    Raises
    ------
    EOFError
        If the other end is gone.
    """
    return pickle.loads(_exactly(stream, _LENGTH.unpack(_exactly(stream, _LENGTH.size))[0]))


def _exactly(stream: IO[bytes], size_bytes: int) -> bytes:
    data = stream.read(size_bytes)
    if len(data) < size_bytes:
        raise EOFError("the other end is gone")
    return data


def serve(requests: IO[bytes], answers: IO[bytes]) -> None:
    """Do each piece of work until the parent is gone."""
    send(answers, ("ready", None, 0.0))
    stood = Standstills(time.monotonic)
    stood.watch()
    while True:
        try:
            work, args, asked_s = receive(requests)
        except EOFError:
            return
        except Exception as fault:  # the work could not even be unpickled: the parent's mistake
            send(answers, ("raised", RuntimeError(f"work not understood: {fault!r}"), 0.0))
            continue
        try:
            answer: tuple[str, Any] = ("done", work(*args))
        except Exception as fault:
            answer = ("raised", fault)
        _answer(answers, answer, stood.stood_s(asked_s, time.monotonic()))


def _answer(answers: IO[bytes], answer: tuple[str, Any], stood_s: float) -> None:
    try:
        pickle.loads(pickle.dumps(answer))  # some exceptions pickle but cannot be read back
    except Exception as fault:
        answer = ("raised", RuntimeError(f"{answer[1]!r} cannot be sent back: {fault!r}"))
    send(answers, (*answer, stood_s))


def main() -> None:
    """Keep the pipe for answers alone: what a library prints must not get into it."""
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    with suppress(BrokenPipeError):  # the parent was killed
        serve(sys.stdin.buffer, answers)


if __name__ == "__main__":
    main()
