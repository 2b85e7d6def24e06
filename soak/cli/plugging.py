"""Verbs with a hand on a plug: reseat, wiggle; and intake, which uses it before the repair."""

from typing import Annotated

import typer

from soak.cli.saying import echo


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak reseat usb1 --unit K1@fixtures/left.toml --times 20")(reseat)
    app.command(epilog="Example: soak wiggle video --unit K1@fixtures/left.toml --hot")(wiggle)
    intake_example = 'soak intake K1@fixtures/left.toml --complaint "picture goes when warm"'
    app.command(epilog=f"Example: {intake_example}")(intake)
    app.command(epilog="Example: soak propose video --port video > scripts/video.toml")(propose)


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
    from soak.desk.hands import reseat as desk

    what = desk.Reseating(port, times, new_plug, type_c, at_least_mbps)
    raise typer.Exit(desk.reseat(context.obj, unit, what))


def wiggle(
    context: typer.Context,
    port: Annotated[str, typer.Argument(metavar="PORT", help="The unit's port.")],
    unit: Annotated[str, typer.Option(help="UNIT@FIXTURE.")],
    hot: Annotated[bool, typer.Option("--hot", help="The unit is to be hot.")] = False,
    warm_up_min: Annotated[
        float | None, typer.Option(min=0, help="On for so long first, min; with --hot 60.")
    ] = None,
    repeats: Annotated[int, typer.Option(min=1, help="Rounds of seven movements.")] = 3,
    newton: Annotated[float, typer.Option(min=0.1, max=50, help="Force of the hand, N.")] = 8.0,
    servo: Annotated[bool, typer.Option("--servo", help="A servo must move it, no hand.")] = False,
    by_eye: Annotated[
        bool, typer.Option("--by-eye", help="You watch it where no instrument does.")
    ] = False,
    seed: Annotated[int | None, typer.Option(help="For a simulated fixture.")] = None,
) -> None:
    """Move a plug seven ways on cue, eyes off the screen; the port must keep contact.

    Where the fixture has a servo at that port, it moves the plug and nobody need be there.
    Touch bare metal of the case first; never move a plug that is live with mains.
    """
    from soak.desk.hands import wiggle as desk

    warm_up_s = None if warm_up_min is None else 60 * warm_up_min
    what = desk.Wiggling(port, hot, warm_up_s, repeats, newton, servo, by_eye)
    raise typer.Exit(desk.wiggle(context.obj, unit, what, echo, seed))


def intake(
    context: typer.Context,
    unit: Annotated[str, typer.Argument(metavar="UNIT@FIXTURE")],
    complaint: Annotated[str, typer.Option(help="What the owner says is wrong.")],
    port: Annotated[
        list[str] | None, typer.Option(help="Only this port; may be given several times.")
    ] = None,
    hours: Annotated[float, typer.Option(min=0.1, max=72, help="Watched while it heats.")] = 1.0,
    seed: Annotated[int | None, typer.Option(help="For a simulated fixture.")] = None,
) -> None:
    """Look for the fault before the repair: movements cold, starts, heat, movements hot.

    What it finds is what later quiet is measured against; it never counts against the repaired
    unit. Ends with a script to soak by after the repair.
    """
    from soak.desk.hands import intake as desk

    what = desk.Intake(complaint, port or (), hours)
    raise typer.Exit(desk.intake(context.obj, unit, what, echo, seed))


def propose(
    kind: Annotated[str, typer.Argument(metavar="REPAIR", help="video, usb, power, fan ...")],
    port: Annotated[str, typer.Option(help="The unit's port; empty: named as the repair.")] = "",
) -> None:
    """Propose a script to soak by after a repair; save it and change what you like."""
    from soak.desk.hands.proposals import proposal

    echo(proposal(kind, port))
