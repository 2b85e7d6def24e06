"""Verbs about the bench itself: find, trouble, prove."""

from typing import Annotated

import typer

from soak.cli.saying import echo


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak find")(find)
    app.command(epilog="Example: soak trouble")(trouble)
    app.command(epilog="Example: soak prove fixtures/left.toml --unit K1")(prove)


def find(
    context: typer.Context,
    snapshots: Annotated[str, typer.Option(help="Folder for a picture of each camera.")] = "",
) -> None:
    """List what is plugged in here, each with the lines to paste into a fixture file."""
    from soak.desk import find as desk

    echo(desk.find(snapshots, context.obj))


def trouble(
    context: typer.Context,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Say what stands in this bench's way, or may spoil a night, each with what mends it.

    Looks at the bench's files, its disk and this computer: devices that are gone, closed to you,
    held by another program, named by a loose name or twice; cameras on one controller; sleep, clock
    and power supply. Reads only. Code 3 if something stands in the way of a soak.
    """
    from soak.desk.trouble.page import trouble as page

    told, code = page(context.obj, as_json=as_json)
    echo(told)
    raise typer.Exit(code)


def prove(
    context: typer.Context,
    fixture: Annotated[str, typer.Argument(metavar="FIXTURE", help="The fixture file.")],
    unit: Annotated[str, typer.Option(help="The unit on it: serial or tag.")] = "",
    model: Annotated[str, typer.Option(help="Its model sheet, for a unit not in the ledger.")] = "",
) -> None:
    """Prove that a fixture is wired to this unit and able to see; keeps what it saw for reports."""
    from soak.desk.proof import prove as desk

    raise typer.Exit(desk.prove(context.obj, fixture, model, unit))
