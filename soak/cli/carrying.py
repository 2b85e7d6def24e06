"""`soak carry ...`: data carried through a closed unit by hand."""

from pathlib import Path
from typing import Annotated

import typer

from soak.cli.saying import echo, progress
from soak.words import NOTHING_SAID

carry = typer.Typer(
    help="Carry data through a unit's USB port by hand: pack a stick, let the unit copy, look.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Unit = Annotated[str, typer.Option(help="Its tag or serial, or the beginning.")]


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.add_typer(carry, name="carry")


@carry.command(epilog="Example: soak carry pack /media/stick --unit K1 --port usb2")
def pack(
    context: typer.Context,
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the stick is mounted.")],
    unit: Unit,
    port: Annotated[str, typer.Option(help="The unit's port, by its name in the model sheet.")],
    size: Annotated[str, typer.Option(help="All files together; 4 MB to 4 GB.")] = "64 MB",
    ending: Annotated[
        str, typer.Option(help="Ending of the names, if the unit lists only one kind.")
    ] = "BIN",
    own_disk: Annotated[
        bool, typer.Option(help="The folder is on this computer's disk, on purpose.")
    ] = False,
) -> None:
    """Write files that tell of themselves whether they are whole, and a card of what to do."""
    from soak.desk.carrying import pack as desk

    given = desk.Given(ending=ending, own_disk=own_disk, progress=progress)
    text = desk.pack(context.obj, folder, unit, port, size, given)
    progress(NOTHING_SAID)
    echo(text)


@carry.command(epilog="Example: soak carry unpack /media/stick --unit K1")
def unpack(
    context: typer.Context,
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="The stick, or the folder of the copies.")
    ],
    unit: Unit,
    through_folder: Annotated[
        bool,
        typer.Option(
            "--through-folder", help="FOLDER is the unit's storage, read otherwise than by stick."
        ),
    ] = False,
    port: Annotated[
        str, typer.Option(help="The unit's port, where manifest and bench's copy are lost.")
    ] = "",
    json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Look through every file wherever it is now, put what came on record, judge it."""
    from soak.desk.carrying import unpack as desk

    given = desk.Given(port, through_folder, json, progress)
    text, code = desk.unpack(context.obj, folder, unit, given)
    progress(NOTHING_SAID)
    echo(text)
    raise typer.Exit(code)
