"""Verbs that begin by questions: begin, model."""

from typing import Annotated

import typer

from soak.cli.running import Outlive
from soak.cli.saying import echo

YesNo = "yes, no, or open where nobody knows."
Mains = Annotated[str | None, typer.Option(help=f"Is it itself fed with mains voltage: {YesNo}")]
Disk = Annotated[str | None, typer.Option(help=f"Does it hold a disk: {YesNo}")]
Cell = Annotated[str | None, typer.Option(help=f"Does it hold a lithium cell: {YesNo}")]
Data = Annotated[str | None, typer.Option(help=f"Can data of an owner be on it: {YesNo}")]
Picture = Annotated[str | None, typer.Option(help="What it shows when on: moving, still, blank.")]
Start = Annotated[str | None, typer.Option(help="From power to picture, such as 20s.")]
Limits = Annotated[str | None, typer.Option(help="How warm its spots may get, in °C, or open.")]
Fixture = Annotated[
    str | None, typer.Option(help="The fixture; the only one, or the unit's last, else asked.")
]
CellOut = Annotated[bool, typer.Option(help="State: the lithium cell is out.")]
Attended = Annotated[bool, typer.Option(help="State: somebody stays to the end.")]
HardCuts = Annotated[bool, typer.Option(help="State: its disk may be cut off hard.")]


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak begin K1 8h")(begin)
    app.command(epilog="Example: soak model ferrow-sp-42 --like ferrow-sp-40")(model)


def begin(
    context: typer.Context,
    unit: Annotated[
        str | None, typer.Argument(metavar="[UNIT]", help="Its tag; of a new one its serial.")
    ] = None,
    time: Annotated[
        str | None, typer.Argument(metavar="[TIME]", help="How long you have got: 45min, 8h.")
    ] = None,
    repaired: Annotated[
        str | None, typer.Option(help="Function and what was done, or nothing.")
    ] = None,
    model: Annotated[
        str | None, typer.Option(help="Of a new unit; a new model: NEW, or NEW like KNOWN.")
    ] = None,
    tag: Annotated[str, typer.Option(help="Of a new unit; else the next U number.")] = "",
    by: Annotated[str, typer.Option(help="Who says so.")] = "",
    fixture: Fixture = None,
    script: Annotated[str, typer.Option(help="This script instead of a proposed one.")] = "",
    mains: Mains = None,
    disk: Disk = None,
    lithium_cell: Cell = None,
    holds_data: Data = None,
    picture: Picture = None,
    start: Start = None,
    limits: Limits = None,
    seed: Annotated[int | None, typer.Option(help="For a simulated fixture.")] = None,
    may_sleep: Annotated[bool, typer.Option(help="Run although the host may sleep.")] = False,
    cell_out: CellOut = False,
    attended: Attended = False,
    hard_cuts: HardCuts = False,
    as_it_is: Annotated[bool, typer.Option("--as-it-is", help="Do not ask: begin.")] = False,
    outlive: Outlive = False,
) -> None:
    """Soak a repaired unit: asks what it does not know, proposes a script, begins at your yes.

    Which unit, what was repaired, how long is there: what is said as an option is not asked.
    Nothing is written before your yes. soak is not a safety device; see soak run --help.
    """
    from soak.desk.beginning.asking import Asking
    from soak.desk.beginning.begin import Wishes
    from soak.desk.beginning.begin import begin as desk
    from soak.desk.soaking.run import outliving
    from soak.frozen.references import Stated

    given = {
        "UNIT": unit,
        "TIME": time,
        "--repaired": repaired,
        "--model": model,
        "--fixture": fixture,
        **_of_model(mains, disk, lithium_cell, holds_data, picture, start, limits),
    }
    stated = Stated(cell_out, attended, hard_cuts)
    wishes = Wishes(tag, by, script, seed, may_sleep, stated, as_it_is)
    with outliving(outlive):
        raise typer.Exit(desk(context.obj, Asking(given), wishes))


def model(
    context: typer.Context,
    name: Annotated[str, typer.Argument(metavar="MODEL", help="As on the type label.")],
    like: Annotated[
        str | None, typer.Option(help="Take over functions, ports and spots of this one.")
    ] = None,
    fixture: Annotated[
        str | None, typer.Option(help="What is wired there it has at least; else the only one.")
    ] = None,
    mains: Mains = None,
    disk: Disk = None,
    lithium_cell: Cell = None,
    holds_data: Data = None,
    picture: Picture = None,
    start: Start = None,
    limits: Limits = None,
) -> None:
    """Write a model's sheet by questions; of one that is there ask what it leaves open.

    What nobody answers stays open, and every page says so.
    """
    from soak.desk.beginning import sheet as desk
    from soak.desk.beginning.asking import Asking

    given = {
        "--like": like,
        "--fixture": fixture,
        **_of_model(mains, disk, lithium_cell, holds_data, picture, start, limits),
    }
    echo(desk.write_sheet(context.obj, name, Asking(given)))


def _of_model(*given: str | None) -> dict[str, str | None]:
    """Return the answers about a model, by their options."""
    options = ("mains", "disk", "lithium-cell", "holds-data", "picture", "start", "limits")
    return {f"--{option}": text for option, text in zip(options, given, strict=True)}
