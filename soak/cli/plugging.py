"""Verbs with a hand on a plug: reseat."""

from typing import Annotated

import typer


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak reseat usb1 --unit K1@fixtures/left.toml --times 20")(reseat)


def reseat(
    context: typer.Context,
    port: Annotated[str, typer.Argument(metavar="PORT", help="The unit's port.")],
    unit: Annotated[str, typer.Option(help="UNIT@FIXTURE.")],
    times: Annotated[int, typer.Option(min=1, help="Plug-ins with the usual plug.")] = 20,
    new_plug: Annotated[int, typer.Option(min=0, help="Plug-ins with a second, new plug.")] = 5,
    type_c: Annotated[bool, typer.Option(help="Both ways up, counted apart.")] = False,
    at_least_mbps: Annotated[
        float | None, typer.Option(help="Link speed it must come up at, Mb/s.")
    ] = None,
) -> None:
    """Plug in again and again on cue; each plug-in must work within a limit and stay.

    Touch bare metal of the case first; never pull a plug that is live with mains.
    """
    from soak.desk import reseat as desk

    what = desk.Reseating(port, times, new_plug, type_c, at_least_mbps)
    raise typer.Exit(desk.reseat(context.obj, unit, what))
