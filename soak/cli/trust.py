"""Verbs of trust: key, verify."""

from typing import Annotated

import typer

from soak.cli.saying import echo
from soak.words import indented, message_of


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak key")(key)
    app.command(epilog="Example: soak verify reports/K1-20260105-2000/report.html")(verify)


def key(context: typer.Context) -> None:
    """Make the bench's key, once; reports made from then on are signed."""
    from soak.desk.trust import keys

    echo(keys.make_key(context.obj))


def verify(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="HTML, PDF, JSON, journal, picture.")],
    signer: Annotated[
        str, typer.Option("--key", help="A public key to accept: 64 digits or its file.")
    ] = "",
) -> None:
    """Say whether a file is whole and who signed it."""
    from soak.desk.trust import verify as desk

    answer = desk.verify(context.obj, file, signer)
    echo(message_of(answer.text))
    for line in answer.more:
        echo(indented(line))
    raise typer.Exit(int(answer.code))
