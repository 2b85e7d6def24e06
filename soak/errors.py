"""Errors an operator can act on: each is one sentence saying what, where and what to do."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Self

from soak.words import Message, joined, just, msg


class ExitCode(IntEnum):
    """What the shell gets back from `soak`."""

    DONE = 0
    """The unit is ready, or the command did what it was asked."""
    FAILED = 1
    """Not ready: the unit failed. Mend the unit."""
    USAGE = 2
    """Wrong usage or a bad file. Nothing was started."""
    BENCH_FAULT = 3
    """The bench failed before there was a grade, or before it could be kept: a full disk.

    Of `soak trouble`: something at the bench stands in a soak's way.
    """
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

    def __init__(self, told: Message) -> None:
        super().__init__(told)

    @property
    def told(self) -> Message:
        """What it tells, which can be said in every language if it was given as a message."""
        return told_of(self)


def told_of(fault: BaseException) -> Message:
    """Return what an error tells; one that was given no message, a plain text."""
    first = fault.args[0] if len(fault.args) == 1 else None
    return first if isinstance(first, Message) else just(str(fault))


class UsageError(SoakError):
    """Report a command that cannot be carried out as given."""


class Stopped(SoakError):
    """Report that a person, or the system, stopped a command."""

    exit_code = ExitCode.STOPPED


@dataclass(frozen=True, slots=True)
class Mistake:
    """A key or value of a file that cannot be used.

    Attributes
    ----------
    key : str
        Path of the key within the file, `"stretch[2].power_cycles.warm"`; empty for the whole file.
    what : str
        What is wrong and what to do, without file and key.
    nearest : str
        The nearest valid key or word, where one is close.
    """

    key: str
    what: Message
    nearest: str = ""

    def within(self, file: str) -> Message:
        """Return it as one line."""
        text = joined(": ", [file, self.key, self.what])
        if not self.nearest:
            return text
        return msg("{mistake} (did you mean {nearest}?)", mistake=text, nearest=self.nearest)


class FileError(SoakError):
    """Report a file with keys or values that cannot be used: one line each.

    Parameters
    ----------
    file : str
        The file as the operator named it.
    key, what, nearest : str
        The first mistake; see `Mistake`.

    Attributes
    ----------
    mistakes : sequence of Mistake
        All of them.
    """

    mistakes: Sequence[Mistake]

    def __init__(self, file: str, key: str, what: Message, nearest: str = "") -> None:
        self._tell(file, [Mistake(key, what, nearest)])

    @classmethod
    def of(cls, file: str, mistakes: Sequence[Mistake]) -> Self:
        """Return the error that tells several mistakes, at least one."""
        first = mistakes[0]
        error = cls(file, first.key, first.what, first.nearest)
        error._tell(file, mistakes)
        return error

    def _tell(self, file: str, mistakes: Sequence[Mistake]) -> None:
        first = mistakes[0]
        self.file = file
        self.mistakes = mistakes
        self.key = first.key
        self.what = first.what
        self.nearest = first.nearest
        lines = [mistake.within(file) for mistake in mistakes]
        many = msg("{file}: {count} mistakes", file=file, count=len(lines))
        self.args = (joined("\n", [many, *lines] if len(lines) > 1 else lines),)


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

    def __init__(self, instrument: str, what: Message) -> None:
        self.instrument = instrument
        self.what = what
        super().__init__(joined(": ", [instrument, what]))


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
