"""Verbs of heat: heat, infrared."""

from typing import Annotated

import typer

from soak.cli.saying import echo

AsJson = Annotated[bool, typer.Option("--json", help="For programs.")]
Soak = Annotated[
    str, typer.Argument(metavar="SOAK", help="Its id, its beginning, a path, or last.")
]


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak heat last")(heat)
    app.command(epilog='Example: soak infrared 32.3 --emissivity "polished aluminium"')(infrared)


def heat(context: typer.Context, soak: Soak = "last", json: AsJson = False) -> None:
    """Tell where each spot ends, how fast it warms and cools, heat cycles, what was drawn."""
    from soak.desk.morning import heat as desk

    echo(desk.heat(context.obj, soak, as_json=json))


def infrared(
    shown: Annotated[float, typer.Argument(metavar="DEGC", help="What it showed, degC.")],
    emissivity: Annotated[str, typer.Option(help="Of the surface: 0.3, paint, ...")],
    room: Annotated[float, typer.Option(help="Temperature of the room, degC.")] = 25.0,
    set_to: Annotated[float, typer.Option(help="What the thermometer is set to.")] = 0.95,
) -> None:
    """Tell what an infrared thermometer really saw of a surface."""
    from soak.desk.morning import heat as desk

    echo(desk.true_temperature(shown, emissivity, room, set_to))
