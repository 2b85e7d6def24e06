"""Starting the guard's process: as long as it gets on it is waited for, and if not it is said why.

A host that is busy with other things may need a minute for what takes half a second; a process that
was stopped or hangs gets no time of a processor at all.
"""

import signal
import subprocess
import time
from contextlib import suppress
from pathlib import Path

import psutil

from soak.errors import BenchFault
from soak.run.guard.process import holder, last_words, start
from soak.words import Amount, Message, Said, msg

STANDSTILL_S = 30.0
"""Without any time of a processor for so long it has not got on, s. Our own choice."""
AT_MOST_S = 600.0
"""What has not come up by then does not, however busy the host, s. Our own choice."""


class Progress:
    """Whether a process gets on: it has had time of a processor since it was last looked at."""

    def __init__(self) -> None:
        self._pid = 0
        self._used_s = 0.0

    def seen(self, pid: int) -> bool:
        """Look; another process than before has got on, too."""
        used_s = _processor_s(pid)
        got_on = used_s is not None and (pid, used_s) != (self._pid, self._used_s)
        self._pid = pid
        self._used_s = used_s or 0.0
        return got_on


class Starting:
    """A guard that is not there yet.

    Parameters
    ----------
    place : Path
        The guard's folder.
    """

    def __init__(self, place: Path) -> None:
        self._place = place
        self._process: subprocess.Popen[bytes] | None = None
        self._progress = Progress()
        self._begun_s = self._got_on_s = time.monotonic()

    @property
    def lasts_s(self) -> float:
        """For how long it has been waited for, s."""
        return time.monotonic() - self._begun_s

    def go_on(self) -> None:
        """Start it where none comes up, and look whether the one that does gets on.

        Raises
        ------
        BenchFault
            If it could not be started, with the reason.
        """
        process = self._process
        if process is None or process.poll() == 0:  # 0: another guard has the bench, or had it
            self._process = process = start(self._place)
        elif process.returncode is not None:
            raise cannot_start(self._ended(process.returncode))
        other = holder(self._place)  # of two runners at once one starts it for both
        if self._progress.seen(other or process.pid):
            self._got_on_s = time.monotonic()
        if time.monotonic() - self._got_on_s > STANDSTILL_S or self.lasts_s > AT_MOST_S:
            process.kill()  # it has switched nothing yet
            raise cannot_start(self._stands(other))

    def _ended(self, code: int) -> Said:
        if code < 0:
            with suppress(ValueError):
                return msg("it was ended by {signal}", signal=signal.Signals(-code).name)
        return last_words(self._place) or msg("it ended with exit code {code}", code=code)

    def _stands(self, other: int) -> Message:
        stood = Amount(time.monotonic() - self._got_on_s, "s")
        lasts = Amount(self.lasts_s, "s")
        if other:
            return msg(
                "process {number}, which holds this bench, was not up after {lasts}, and for "
                "{stood} got no further",
                number=other,
                lasts=lasts,
                stood=stood,
            )
        return msg(
            "it was not up after {lasts}, and for {stood} got no further", lasts=lasts, stood=stood
        )


def cannot_start(why: Said) -> BenchFault:
    """Return the fault of a guard that could not be had."""
    return BenchFault(
        "guard", msg("its process could not be started ({why}); nothing was switched on", why=why)
    )


def _processor_s(pid: int) -> float | None:
    """Return what a process has used of processors, s; None where the system does not tell.

    Then nobody knows whether it gets on, and it has `STANDSTILL_S`.
    """
    try:
        used = psutil.Process(pid).cpu_times()
    except psutil.Error:
        return None
    return float(used.user + used.system)
