"""A child process for work that can hang inside the kernel.

A thread that hangs in the kernel keeps the whole process from ending, and nothing can interrupt
it. A child can be killed, or, where even that waits for the device, left behind.
"""

import contextlib
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any, TypeVar, cast

import psutil
import trio

from soak.bench.child_end import receive, send
from soak.roles import OffLoop
from soak.words import msg

T = TypeVar("T")

START_LIMIT_S = 30.0
"""A child that is not up after so long (a host swapping hard) is given up. Our own choice."""

_REAP_S = 0.05
"""A killed child is gone within milliseconds unless it hangs in the kernel; then do not wait. Our
own choice."""

_left_behind: list[subprocess.Popen[bytes]] = []
"""Killed children that have not ended yet; kept so that they can be reaped later."""


def leave_behind(process: subprocess.Popen[bytes]) -> None:
    """Kill a child process; reap it now, or later where it still hangs in the kernel."""
    process.kill()
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(_REAP_S)
    _left_behind.append(process)
    _left_behind[:] = [child for child in _left_behind if child.poll() is None]


class ChildDied(OSError):
    """Report a child process that ended, or was stopped, in the middle of its work."""


class Child:
    """One child process; started at the first call, and again after it was killed.

    Work is a function that can be imported by name, with arguments and results that pickle; what
    it keeps in module variables lives until the child is killed. One call runs at a time, others
    wait their turn.

    Parameters
    ----------
    off_loop : OffLoop
        The way to the thread that talks to the child.

    Attributes
    ----------
    stood_s : float
        For how long the child itself stood still between its last request and answer, s.

    Examples
    --------
    >>> child = Child(tools.off_loop)
    >>> data = await child.call(10.0, read_block, path, offset)
    >>> await child.aclose()
    """

    def __init__(self, off_loop: OffLoop) -> None:
        self._off_loop = off_loop
        self._turn = trio.Lock()
        self._worker: _Worker | None = None
        self.stood_s = 0.0

    @property
    def running(self) -> bool:
        """Whether there is a child process now."""
        return self._worker is not None

    async def call(self, limit_s: float, work: Callable[..., T], *args: Any) -> T:
        """Run `work(*args)` in the child for at most `limit_s`; its start is not counted.

        Whatever `work` raises is raised here.

        Raises
        ------
        TimeoutError
            If it took longer. The child is killed, so what it held is lost.
        ChildDied
            If the child ended meanwhile, or was stopped and took longer for that.
        RuntimeError
            If the clock leaps, or work or result cannot be sent.
        """
        async with self._turn:
            try:
                if self._worker is None:
                    self._worker = await self._off_loop.call(START_LIMIT_S, _Worker)
                    await self._off_loop.call(START_LIMIT_S, self._worker.wait_ready)
                answer, value, self.stood_s = await self._off_loop.call(
                    limit_s, self._worker.exchange, work, args
                )
            except TimeoutError:
                stopped = self._worker is not None and self._worker.is_stopped()
                self._kill()
                if stopped:
                    raise ChildDied(msg("the child process was stopped in its work")) from None
                raise
            except BaseException:  # over its limit, cancelled, or dead: its state is not known
                self._kill()
                raise
        if answer == "raised":
            raise value
        return cast(T, value)

    async def aclose(self) -> None:
        """Kill the child if there is one; twice is safe, and it never waits for the device."""
        self._kill()
        await trio.lowlevel.checkpoint()

    def _kill(self) -> None:
        worker = self._worker
        self._worker = None
        if worker is not None:
            worker.kill()


class _Worker:
    """The parent's end of one child process. Its methods block: they run in a thread."""

    def __init__(self) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "soak.bench.child_end"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            start_new_session=True,  # Ctrl-C is for the parent, which then decides
        )
        self._talking = threading.Lock()
        self._killed = False

    def is_stopped(self) -> bool:
        """Tell whether somebody stopped the child; False where the system does not say."""
        try:
            return psutil.Process(self._process.pid).status() == psutil.STATUS_STOPPED
        except psutil.Error:
            return False

    def wait_ready(self) -> None:
        self._talk(None)

    def exchange(self, work: Callable[..., Any], args: Sequence[Any]) -> Any:
        return self._talk((work, args, time.monotonic()))  # one clock for all processes of a host

    def _talk(self, request: Any) -> Any:
        stdin = self._process.stdin
        stdout = self._process.stdout
        assert stdin is not None
        assert stdout is not None
        try:
            with self._talking:
                if request is not None:
                    send(stdin, request)
                return receive(stdout)
        except (EOFError, BrokenPipeError):
            raise ChildDied(msg("the child process ended in the middle of its work")) from None
        finally:
            if self._killed:
                self._close_pipes()

    def kill(self) -> None:
        self._killed = True
        leave_behind(self._process)
        if self._talking.acquire(blocking=False):  # else the thread that talks closes them
            self._close_pipes()
            self._talking.release()

    def _close_pipes(self) -> None:
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()
