"""Verbs that soak: demo, run, resume, join, stop, note, answer."""

from pathlib import Path
from typing import Annotated

import typer

from soak.cli.saying import echo

Soak = Annotated[
    str, typer.Argument(metavar="SOAK", help="Its id, its beginning, a path, or last.")
]
Outlive = Annotated[
    bool, typer.Option("--outlive", help="Go on when this window is closed; see soak join.")
]


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak demo")(demo)
    app.command(epilog="Example: soak run overnight --unit K1@fixtures/left.toml")(run)
    app.command(epilog="Example: soak resume last")(resume)
    app.command(epilog="Example: soak join last")(join)
    app.command(epilog='Example: soak stop last --why "wrong cable"')(stop)
    app.command(epilog='Example: soak note last "I moved the plug" --was-me')(note)
    app.command(epilog="Example: soak answer last look-over/closed yes")(answer)


def demo(
    seed: Annotated[int, typer.Option(help="Another seed, another night.")] = 1,
) -> None:
    """Soak simulated units overnight in about a minute: the whole job, nothing wired."""
    from soak.desk.demo import demo as desk

    desk.demo(seed, echo)


def run(
    context: typer.Context,
    script: Annotated[str, typer.Argument(metavar="SCRIPT", help="quick, evening, overnight ...")],
    unit: Annotated[list[str], typer.Option(help="UNIT@FIXTURE; may be given several times.")],
    seed: Annotated[int | None, typer.Option(help="For a simulated fixture.")] = None,
    may_sleep: Annotated[bool, typer.Option(help="Run although the host may sleep.")] = False,
    cell_out: Annotated[bool, typer.Option(help="State: the lithium cell is out.")] = False,
    attended: Annotated[bool, typer.Option(help="State: somebody stays to the end.")] = False,
    hard_cuts: Annotated[bool, typer.Option(help="State: its disk may be cut off hard.")] = False,
    as_reference: Annotated[
        bool, typer.Option(help="State: the unit is known to be good.")
    ] = False,
    as_it_is: Annotated[
        bool, typer.Option("--as-it-is", help="Do not ask whether to go on where a point is open.")
    ] = False,
    outlive: Outlive = False,
) -> None:
    """Soak units: attended start, then alone. soak is not a safety device.

    Mains work only by competent people, with a residual-current device, earth checked; vents
    open; lithium cells out or somebody present; hot parts out of reach; laser drives closed; a
    smoke alarm in the room. Local codes and licensed practice come first.
    """
    from soak.desk.soaking import run as desk
    from soak.frozen.references import Stated

    stated = Stated(cell_out, attended, hard_cuts, as_reference)
    with desk.outliving(outlive):
        code = desk.run(
            context.obj,
            script,
            unit,
            seed=seed,
            may_sleep=may_sleep,
            stated=stated,
            as_it_is=as_it_is,
        )
    raise typer.Exit(code)


def resume(
    context: typer.Context,
    soak: Soak = "last",
    may_sleep: Annotated[bool, typer.Option(help="Go on although the host may sleep.")] = False,
    outlive: Outlive = False,
) -> None:
    """Go on with a soak that was cut off: power off first; or finish its grade and report."""
    from soak.desk.soaking import run as desk

    with desk.outliving(outlive):
        raise typer.Exit(desk.resume(context.obj, soak, may_sleep=may_sleep))


def join(context: typer.Context, soak: Soak = "last") -> None:
    """Show a running soak at this terminal, too: answer, note, stop; Ctrl-C only leaves."""
    from soak.desk.soaking import joining as desk

    raise typer.Exit(desk.join(context.obj, soak))


def stop(
    context: typer.Context,
    soak: Soak = "last",
    why: Annotated[str, typer.Option(help="Why, for the record.")] = "",
) -> None:
    """End a running soak: power off, sealed, graded as far as it went."""
    from soak.desk.soaking import inbox as desk

    echo(desk.stop(context.obj, soak, why))


def note(
    context: typer.Context,
    soak: Soak,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="What you did or saw.")],
    was_me: Annotated[
        bool, typer.Option(help="What was seen in the last minutes was you, not the unit.")
    ] = False,
    minutes: Annotated[float, typer.Option(help="How many minutes back it reaches.")] = 2.0,
) -> None:
    """Put the operator's word on record; it can turn a dropout into a hole, never into met."""
    from soak.desk.soaking import inbox as desk

    echo(desk.note(context.obj, soak, text, was_me=was_me, minutes=minutes))


def answer(
    context: typer.Context,
    soak: Soak,
    question: Annotated[str, typer.Argument(metavar="QUESTION", help="Its id, as it was asked.")],
    said: Annotated[str, typer.Argument(metavar="ANSWER", help="yes, no, done or a number.")],
    photograph: Annotated[
        Path | None, typer.Option(metavar="FILE", help="A photograph that goes with it.")
    ] = None,
    by: Annotated[
        str, typer.Option(metavar="INITIALS", help="Who judged, where it is judged by hand.")
    ] = "",
) -> None:
    """Answer a question of a running soak from another terminal."""
    from soak.desk.soaking import inbox as desk

    echo(desk.answer(context.obj, soak, question, said, photograph, by))
