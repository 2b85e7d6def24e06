"""`soak` at a terminal, many times a second: one process imports it, and forks for each command.

Run as a program it serves: a line of JSON on its input is a command (`words`, `bench`), a line on
its output what came of it. Each command is the whole program, `soak.cli.main.main`, as the session
leader of a pseudo-terminal of its own.
"""

import base64
import contextlib
import gc
import importlib
import json
import os
import pkgutil
import pty
import resource
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

COLUMNS = 200
ROWS = 60
MOST_SHOWN_BYTES = 8 << 20
HUNG_S = 100.0
"""So long a command may take in real time before it counts as hung; each takes a fraction of it."""
MOST_MEMORY_BYTES = 6 << 30
"""Address space of a command: what is mapped without being used counts, and libraries map much."""


@dataclass(frozen=True)
class Shown:
    """What came of a command.

    Attributes
    ----------
    code : int
        Exit code; negative: the signal that ended it.
    shown : bytes
        What the terminal got, as it got it.
    hung : bool
        Whether it had to be ended.
    most_bytes : int
        The most memory it held at once.
    """

    words: Sequence[str]
    code: int
    shown: bytes
    hung: bool
    most_bytes: int


_LAST = b"\x1e\x1dthat was all\x1d\x1e"


class VerbsBeside:
    """A process that has imported `soak`, for as long as the context lasts."""

    def __init__(self, home: Path) -> None:
        env = {**os.environ, "HOME": str(home), "TERM": "xterm", "PYTHONUTF8": "1"}
        env.pop("XDG_STATE_HOME", None)
        self._server = subprocess.Popen(
            [sys.executable, __file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=env,
            cwd=home,
        )

    def soak(self, bench: Path, *words: str) -> Shown:
        """Type a command in a bench's folder; nobody answers what it asks."""
        to, back = self._server.stdin, self._server.stdout
        assert to is not None
        assert back is not None
        to.write(json.dumps({"bench": str(bench), "words": words}).encode() + b"\n")
        to.flush()
        told = json.loads(back.readline())
        told["shown"] = base64.b64decode(told["shown"])
        return Shown(words, **told)

    def __enter__(self) -> "VerbsBeside":
        return self

    def __exit__(self, *_: object) -> None:
        assert self._server.stdin is not None
        self._server.stdin.close()
        self._server.wait()
        assert self._server.stdout is not None
        self._server.stdout.close()


def _serve() -> None:
    import soak

    for module in pkgutil.walk_packages(soak.__path__, "soak."):
        if module.name not in ("soak.bench.stick.windows_files",):
            with contextlib.suppress(ImportError):
                importlib.import_module(module.name)
    gc.freeze()
    for line in sys.stdin.buffer:
        told = json.loads(line)
        sys.stdout.write(json.dumps(_done(told)) + "\n")
        sys.stdout.flush()


def _done(told: Mapping[str, Any]) -> Mapping[str, Any]:
    terminal, screen = pty.openpty()
    pid = os.fork()
    if pid == 0:
        os.close(terminal)
        os.login_tty(screen)
        _become_soak(told["bench"], told["words"])
    ended = os.pidfd_open(pid)
    os.write(terminal, b"\x04" * 20)  # the end of what is typed, for each question
    shown, hung = _shown(terminal, screen, ended)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(pid, signal.SIGKILL) if hung else None
    for handle in (terminal, screen, ended):
        os.close(handle)
    _, status, used = os.wait4(pid, 0)
    return {
        "code": os.waitstatus_to_exitcode(status),
        "shown": base64.b64encode(shown).decode(),
        "hung": hung,
        "most_bytes": used.ru_maxrss << 10,
    }


def _shown(terminal: int, screen: int, ended: int) -> tuple[bytes, bool]:
    """Read what is shown until the program has ended; tell as well whether it hung.

    A terminal's end is not always told when nobody has it open any more: once the program has
    ended, a last word of our own is put behind all that it wrote.
    """
    shown = bytearray()
    waits_for = {terminal, ended}
    ends_s = time.monotonic() + HUNG_S
    while len(shown) < MOST_SHOWN_BYTES and not shown.endswith(_LAST):
        ready, _, _ = select.select(waits_for, [], [], max(0.0, ends_s - time.monotonic()))
        if not ready:
            return bytes(shown), True
        if ended in ready:
            waits_for.discard(ended)
            os.write(screen, _LAST)
        if terminal in ready:
            shown += os.read(terminal, 1 << 16)
    return bytes(shown.removesuffix(_LAST)), False


def _become_soak(bench: str, words: Sequence[str]) -> None:
    code = 1
    try:
        mode = termios.tcgetattr(0)
        mode[3] &= ~termios.ECHO
        termios.tcsetattr(0, termios.TCSANOW, mode)
        termios.tcsetwinsize(1, (ROWS, COLUMNS))
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
        os.chdir(bench)
        # As a new interpreter has them at a terminal; those of this one were made for pipes.
        sys.stdin = os.fdopen(0, encoding="utf-8", errors="surrogateescape")
        sys.stdout = os.fdopen(1, "w", 1, encoding="utf-8")
        sys.stderr = os.fdopen(2, "w", 1, encoding="utf-8", errors="backslashreplace")
        sys.argv = ["soak", *words]
        from soak.cli.main import main

        try:
            main()
            code = 0
        except SystemExit as ended:
            code = ended.code if isinstance(ended.code, int) else int(ended.code is not None)
        except BaseException:
            sys.excepthook(*sys.exc_info())
        sys.stdout.flush()
        sys.stderr.flush()
    finally:
        os._exit(code & 0xFF)


if __name__ == "__main__":
    _serve()
