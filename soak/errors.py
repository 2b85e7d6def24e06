"""Errors an operator can act on: each is one sentence saying what, where and what to do."""

from enum import IntEnum


class ExitCode(IntEnum):
    """What the shell gets back from `soak`."""

    DONE = 0
    """The unit is ready, or the command did what it was asked."""
    FAILED = 1
    """Not ready: the unit failed. Mend the unit."""
    USAGE = 2
    """Wrong usage or a bad file. Nothing was started."""
    BENCH_FAULT = 3
    """The bench failed before there was a grade, or before it could be kept: a full disk."""
    INCOMPLETE = 4
    """Not ready: the evidence has holes. Mend the bench and run on."""
    BROKE = 5
    """`soak` itself broke: a fault of the program, never of the unit."""
    AS_FAR_AS_TESTED = 6
    """Ready by a claim that leaves a key function out, as was said before the soak."""
    STOPPED = 130
    """It was stopped: Ctrl-C, `soak stop`, a closed window, or the system told it to end."""


class SoakError(Exception):
    """Base of every error that `soak` raises on purpose; its text is shown to the operator."""

    exit_code: ExitCode = ExitCode.USAGE


class UsageError(SoakError):
    """Report a command that cannot be carried out as given."""


class Stopped(SoakError):
    """Report that a person, or the system, stopped a command."""

    exit_code = ExitCode.STOPPED


class FileError(SoakError):
    """Report a file with a key or value that cannot be used.

    Parameters
    ----------
    file : str
        The file as the operator named it.
    key : str
        Path of the key within the file, `"stretch[2].power_cycles.warm"`; empty for the whole file.
    what : str
        What is wrong and what to do, without file and key.
    nearest : str
        The nearest valid key, where one is close.
    """

    def __init__(self, file: str, key: str, what: str, nearest: str = "") -> None:
        self.file, self.key, self.what, self.nearest = file, key, what, nearest
        place = f"{file}: {key}" if key else file
        hint = f" (did you mean {nearest}?)" if nearest else ""
        super().__init__(f"{place}: {what}{hint}")


class ScriptError(FileError):
    """Report a script that contradicts itself or names an unknown setting."""


class FixtureError(FileError):
    """Report a fixture file, model sheet or scene that cannot be used."""


class BenchFault(SoakError):
    """Report an instrument of the bench that failed: never evidence against the unit.

    Parameters
    ----------
    instrument : str
        Name within the fixture, `"switch"` or `"probe.heatsink"`.
    what : str
        What happened and what to do.
    """

    exit_code = ExitCode.BENCH_FAULT

    def __init__(self, instrument: str, what: str) -> None:
        self.instrument, self.what = instrument, what
        super().__init__(f"{instrument}: {what}")


class JournalError(SoakError):
    """Report a journal that cannot be written or read."""


class JournalNotWritten(JournalError):
    """Report that a journal can be written no more; what was acknowledged is safe."""

    exit_code = ExitCode.BENCH_FAULT


class JournalFull(JournalNotWritten):
    """Report that it cannot because the medium has no room left."""


class LedgerError(SoakError):
    """Report a ledger entry that is missing, doubtful or contradictory."""


class LedgerNotWritten(LedgerError):
    """Report that nothing can be recorded: the ledger is in use, or its medium takes no more."""

    exit_code = ExitCode.BENCH_FAULT
