"""The command `soak`: verbs, and errors as one sentence with an exit code."""

import os
import signal
import sys
from pathlib import Path
from typing import Annotated

import typer

from soak import __version__
from soak.cli import (
    carrying,
    clip,
    comparing,
    evidence,
    grading,
    heating,
    picture,
    plugging,
    reporting,
    running,
    standing_in,
    trust,
    units,
    wiring,
)
from soak.errors import SoakError, Stopped

app = typer.Typer(
    name="soak",
    help="Soak a repaired unit under scripted checks, keep the evidence, grade it for sale. "
    "A function test: soak is not a safety device and no electrical safety test.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)
for verbs in (
    running,
    grading,
    picture,
    reporting,
    trust,
    wiring,
    carrying,
    standing_in,
    evidence,
    plugging,
    comparing,
    clip,
    heating,
):
    verbs.add_to(app)
app.add_typer(units.app, name="unit")


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"soak {__version__}")
        raise typer.Exit


@app.callback()
def common(
    context: typer.Context,
    bench: Annotated[
        Path, typer.Option(help="The bench's folder: fixtures, soaks, reports, ledger.")
    ] = Path(),
    trace: Annotated[bool, typer.Option(help="Show where an error comes from.")] = False,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version.")
    ] = False,
) -> None:
    """Take the options that stand before the verb."""
    context.obj = bench


def main() -> None:
    """Run the command line; every error that soak raises is one sentence."""
    _heed_what_was_handed_down_ignored()
    trace = "--trace" in sys.argv
    try:
        app(standalone_mode=True)
    except BaseException as error:
        fault = _soak_error(error)
        if fault is None or trace:
            raise
        typer.echo(f"soak: {fault}", err=True)
        sys.exit(int(fault.exit_code))
    finally:
        _leave_a_closed_terminal()


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
        found = (_soak_error(inner) for inner in error.exceptions)
        return next((fault for fault in found if fault is not None), None)
    if isinstance(error, KeyboardInterrupt):
        return Stopped("stopped")
    return None
