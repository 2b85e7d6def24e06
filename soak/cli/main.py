"""The command `soak`: errors as one sentence with an exit code, its own breaking too.

Nothing but what that needs is imported before `main` runs: Ctrl-C while the verbs are loaded, which
takes a busy computer a second, is told in one line, too.
"""

import errno
import os
import signal
import sys
import traceback

from soak.errors import ExitCode, SoakError, Stopped
from soak.words import joined, msg

_REFUSED = {
    **dict.fromkeys((errno.EACCES, errno.EPERM, errno.EROFS), ExitCode.USAGE),
    **dict.fromkeys((errno.ENAMETOOLONG, errno.ELOOP, errno.EINVAL), ExitCode.USAGE),
    **dict.fromkeys((errno.ENOTDIR, errno.EISDIR, errno.ENXIO), ExitCode.USAGE),
    **dict.fromkeys((errno.ENOSPC, errno.EDQUOT, errno.EIO), ExitCode.BENCH_FAULT),
}
"""What the system says of files and folders that somebody named, or of the medium they lie on."""


def main() -> None:
    """Run the command line; whatever goes wrong is one sentence."""
    try:
        _heed_what_was_handed_down_ignored()
        _end_as_by_ctrl_c()
        from soak.cli.app import app

        app(standalone_mode=True)
    except SystemExit as ended:
        if not _by_ctrl_c(ended):
            raise
        sys.exit(_told(Stopped(msg("stopped")), trace=False))
    except BaseException as error:
        sys.exit(_told(error, trace="--trace" in sys.argv))
    finally:
        _leave_a_closed_terminal()


def _told(error: BaseException, *, trace: bool) -> int:
    """Say what went wrong; return the exit code."""
    fault = _soak_error(error)
    if fault is None and not trace:
        from soak.crash import kept_trace

        fault = SoakError(kept_trace(error))
        fault.exit_code = ExitCode.BROKE
    from soak.reader import show

    if trace:
        show("".join(traceback.format_exception(error)), end="")
    elif fault is not None:
        show(joined(" ", ["soak:", fault.told]))
    return int(ExitCode.BROKE if fault is None else fault.exit_code)


def _heed_what_was_handed_down_ignored() -> None:
    """Let Ctrl-C and the system's word to end reach us, whoever started us.

    A script's `soak run ... &` hands Ctrl-C down ignored (POSIX.1-2017, Shell, 2.11): the operator
    would take the unit for off. The end of a child, ignored, would leave us no exit codes. What
    stays ignored is a closed terminal: that is what `nohup` is for.
    """
    for name, usual in (
        ("SIGINT", signal.default_int_handler),
        ("SIGTERM", signal.SIG_DFL),
        ("SIGCHLD", signal.SIG_DFL),
    ):
        number = getattr(signal, name, None)  # Windows has no SIGCHLD
        if number is None:
            continue
        if signal.getsignal(number) is signal.SIG_IGN:
            signal.signal(number, usual)
        if hasattr(signal, "pthread_sigmask"):
            signal.pthread_sigmask(signal.SIG_UNBLOCK, [number])


def _end_as_by_ctrl_c() -> None:
    """Let a closed window, and the system's word to end, do what Ctrl-C does until a soak runs."""
    for name in ("SIGHUP", "SIGTERM"):
        number = getattr(signal, name, None)  # Windows has no SIGHUP
        if number is not None and signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, lambda *_: signal.raise_signal(signal.SIGINT))


def _leave_a_closed_terminal() -> None:
    """Keep our exit code where nobody takes the last words: Python would end with its own 120."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _soak_error(error: BaseException) -> SoakError | None:
    """Return the error of ours in an error, or in a group of them."""
    if isinstance(error, SoakError):
        return error
    if isinstance(error, BaseExceptionGroup):
        errors = (_soak_error(inner) for inner in error.exceptions)
        return next((fault for fault in errors if fault is not None), None)
    if isinstance(error, KeyboardInterrupt):
        return Stopped(msg("stopped"))
    if isinstance(error, UnicodeEncodeError) and "surrogates" in error.reason:
        return SoakError(msg("what was typed holds bytes that are no UTF-8 text; type it again"))
    return _of_a_file(error) if isinstance(error, OSError) else None


def _of_a_file(fault: OSError) -> SoakError | None:
    """Tell what the system refuses about a file, where whoever asked for it did not: no crash."""
    if fault.filename is None or fault.errno not in _REFUSED:
        return None
    named = joined(": ", [os.fsdecode(fault.filename), str(fault.strerror)])
    told = SoakError(named)
    told.exit_code = _REFUSED[fault.errno]
    return told


def _by_ctrl_c(ended: SystemExit) -> bool:
    """Tell whether typer made a silent exit of Ctrl-C, while a verb was loading or working."""
    asked = ended.__context__
    return asked is not None and isinstance(asked.__cause__, KeyboardInterrupt)
