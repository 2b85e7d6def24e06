"""Verbs of trust: key, verify."""

from pathlib import Path
from typing import Annotated

import typer

from soak.cli.saying import echo
from soak.words import indented, message_of


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak key")(key)
    app.command(epilog="Example: soak verify reports/K1-20260105-2000/report.html")(verify)


def key(
    context: typer.Context,
    checker: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Also write the page with which buyers check a report."),
    ] = None,
    language: Annotated[str, typer.Option(help="Of that page: en or de.")] = "",
) -> None:
    """Show the fingerprint of the bench's key, to be published; make it where there is none."""
    from soak.desk.trust import keys

    echo(keys.show_key(context.obj))
    if checker is not None:
        echo(keys.write_checker(context.obj, checker, language))


def verify(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="HTML, PDF, JSON, journal, picture.")],
    signer: Annotated[
        str,
        typer.Option(
            "--key", help="The one key to accept: its fingerprint, its 64 digits, or its file."
        ),
    ] = "",
    unit: Annotated[
        str, typer.Option(help="Tag or serial of the unit that it has to be about.")
    ] = "",
) -> None:
    """Say which unit a file is about, whether it is whole, who signed it, and what came since.

    Exit code 0: whole, by a known key, and nothing newer is known. 1: changed, of another unit than
    --unit says, or the unit failed since. 4: not signed, by an unknown key, or superseded.
    """
    from soak.desk.trust import verify as desk

    answer = desk.verify(context.obj, file, signer, unit)
    echo(message_of(answer.text))
    for line in answer.more:
        echo(indented(line))
    raise typer.Exit(int(answer.code))
