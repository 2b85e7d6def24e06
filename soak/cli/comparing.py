"""Verbs that compare: compare, causes, swap."""

from typing import Annotated

import typer

from soak.cli.saying import echo

AsJson = Annotated[bool, typer.Option("--json", help="For programs.")]
Soak = Annotated[
    str, typer.Argument(metavar="SOAK", help="Its id, its beginning, a path, or last.")
]


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak compare K1-20260105-2000 K1-20260112-2000")(compare)
    app.command(epilog="Example: soak causes last")(causes)
    app.command(epilog="Example: soak swap K1@fixtures/left.toml")(swap)


def compare(
    context: typer.Context,
    one: Annotated[str, typer.Argument(metavar="SOAK", help="A soak.")],
    other: Annotated[str, typer.Argument(metavar="OTHER", help="Another soak.")],
    json: AsJson = False,
) -> None:
    """Set two soaks side by side: before and after, unit and reference, a twin a month later."""
    from soak.desk.morning import comparing as desk

    echo(desk.compare_soaks(context.obj, one, other, as_json=json))


def causes(context: typer.Context, soak: Soak = "last", json: AsJson = False) -> None:
    """Point at probable causes of what a soak found; for the repairer, never on a report."""
    from soak.desk.morning import comparing as desk

    echo(desk.causes_of(context.obj, soak, as_json=json))


def swap(
    context: typer.Context,
    unit: Annotated[str, typer.Argument(metavar="UNIT@FIXTURE", help="As for run.")],
    seconds: Annotated[float, typer.Option(help="How long to watch each time.")] = 45.0,
    of: Annotated[
        str, typer.Option(metavar="WHAT", help="Lost: picture, data, network, restarts or starts.")
    ] = "picture",
    starts: Annotated[int, typer.Option(help="With --of starts: how many each time.")] = 10,
) -> None:
    """Exchange one part of the bench after another: a few minutes decide unit or bench.

    Between looks a part is exchanged and put back: for the picture cable, port and capture card;
    for data (a device that goes from the port, seen by the link) cable, port and device; for
    the network link cable and port; for restarts and failed starts power lead, power supply and
    card, while the power is off.
    """
    from soak.desk.hands import swap as desk

    raise typer.Exit(desk.swap(context.obj, unit, seconds, of, starts))
