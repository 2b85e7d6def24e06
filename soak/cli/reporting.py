"""Verbs that make what goes with a sale: the report in all its forms, and the label."""

from pathlib import Path
from typing import Annotated

import typer

from soak.cli.saying import echo
from soak.words import joined, msg


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak report K1-20260105-2000 --record")(report)
    app.command(epilog="Example: soak label K1 --size 62x29")(label)


def report(
    context: typer.Context,
    soak: Annotated[
        str, typer.Argument(metavar="SOAK", help="Its id, its beginning, a path, or last.")
    ] = "last",
    claim: Annotated[
        str, typer.Option(help="The word the unit is sold under; else as its details say.")
    ] = "",
    language: Annotated[
        str, typer.Option(help="Of pages, picture and paper: en or de; else as bench.toml says.")
    ] = "",
    paper: Annotated[str, typer.Option(help="a4 or us-letter.")] = "a4",
    qr: Annotated[bool, typer.Option(help="Print a QR code on the picture.")] = True,
    record: Annotated[bool, typer.Option(help="Also the removable record of the test.")] = False,
    anyway: Annotated[
        bool, typer.Option(help="Make a listing picture that says NOT READY.")
    ] = False,
    to: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Write it there, where the soak's disk takes no more."),
    ] = None,
    details: Annotated[
        bool, typer.Option(help="Write the file for what only people know, and stop.")
    ] = False,
) -> None:
    """Write the report of a job: pages, PDF, listing picture and text, JSON, CSV."""
    from soak.desk.paper import reporting as desk
    from soak.errors import UsageError
    from soak.report.output.files import Outputs
    from soak.report.output.paper import PAPERS

    if details:
        echo(desk.details_to_fill_in(context.obj, soak))
        return
    if paper not in PAPERS:
        raise UsageError(
            msg("--paper {paper}: there is {papers}", paper=paper, papers=joined(" and ", PAPERS))
        )
    how = Outputs(language=language, paper=PAPERS[paper], qr=qr, record=record, anyway=anyway)
    made = desk.report_soak(context.obj, soak, claim, how, to)
    echo(made.text)
    raise typer.Exit(int(made.code))


def label(
    context: typer.Context,
    unit: Annotated[
        str, typer.Argument(metavar="UNIT", help="Its tag or serial, or the beginning.")
    ],
    size: Annotated[str, typer.Option(help="Width and height in mm.")] = "57x32",
) -> None:
    """Make a unit's label: bench code and QR, as picture and PDF."""
    from soak.desk.paper import labels as desk

    echo(desk.make_label(context.obj, unit, size))
