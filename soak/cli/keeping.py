"""Verbs that keep a bench: backup, restore, clear."""

from pathlib import Path
from typing import Annotated

import typer

from soak.cli.saying import echo, progress
from soak.words import NOTHING_SAID, msg


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak backup /media/disk/bench-2026-01-05.zip")(backup)
    app.command(epilog="Example: soak restore /media/disk/bench-2026-01-05.zip bench")(restore)
    app.command(epilog="Example: soak clear /media/disk/bench-2026-01-05.zip")(clear)


Backup = Annotated[Path, typer.Argument(metavar="FILE", help="The backup.")]


def backup(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A new file, best on another disk.")],
    without_key: Annotated[
        bool, typer.Option("--without-key", help="Leave the bench's private key out.")
    ] = False,
    also: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME", help="Something else in the bench's folder; may be repeated."),
    ] = None,
) -> None:
    """Copy the whole bench into one file: ledger, journals, reports, key, fixtures, scripts.

    A soak may run meanwhile. Exit code 4: something was left out or cannot be read, and is said.
    """
    from soak.desk.keeping import backup as desk

    try:
        made = desk.backup(
            context.obj, file, also or (), with_key=not without_key, progress=progress
        )
    finally:
        progress(NOTHING_SAID)
    echo(made.text)
    raise typer.Exit(int(made.code))


def restore(
    context: typer.Context,
    file: Backup,
    folder: Annotated[
        Path | None, typer.Argument(metavar="FOLDER", help="A new folder, or an empty one.")
    ] = None,
    soak: Annotated[
        str, typer.Option(help="Instead: put the cleared journal of this soak back into the bench.")
    ] = "",
) -> None:
    """Read a bench back from its backup into a new folder; every file's hash is checked."""
    from soak.desk.keeping import restore as desk
    from soak.errors import UsageError

    if (folder is None) == (not soak):
        raise UsageError(msg("name either a new FOLDER for the bench, or --soak SOAK"))
    try:
        if folder is not None:
            told = desk.restore(file, folder, progress)
        else:
            told = desk.put_back(context.obj, file, soak, progress)
    finally:
        progress(NOTHING_SAID)
    echo(told)


def clear(
    context: typer.Context,
    file: Backup,
    closed: Annotated[
        bool,
        typer.Option("--closed", help="Also closed jobs of units that are here and not sold."),
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Clear what is listed, unasked.")] = False,
) -> None:
    """Remove journals of sold units that are in a backup to the byte; list them, then ask."""
    from soak.desk.keeping import clear as desk

    try:
        plan = desk.plan(context.obj, file, closed=closed, progress=progress)
    finally:
        progress(NOTHING_SAID)
    echo(plan.told)
    if plan.soaks:
        agreed = yes or desk.agreed()
        echo(desk.clear(context.obj, plan) if agreed else msg("nothing was cleared"))
