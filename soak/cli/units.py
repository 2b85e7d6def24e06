"""`soak unit ...`: the bench's units over the years."""

from typing import Annotated

import typer

from soak.cli.saying import echo
from soak.words import Output

app = typer.Typer(
    help="The bench's units over the years: added, mended, opened, sold, back.",
    no_args_is_help=True,
    rich_markup_mode=None,
)

Unit = Annotated[str, typer.Argument(metavar="UNIT", help="Its tag or serial, or the beginning.")]
On = Annotated[
    str, typer.Option(help="When: 2026-03-14, or with the hour '2026-03-14 11:30'; else now.")
]
Entry = Annotated[
    int, typer.Argument(metavar="ENTRY", help="Its number, as soak unit show lists it.")
]
Because = Annotated[str, typer.Option(help="Why, in a few words.")]
By = Annotated[str, typer.Option(help="Who says so.")]
Anyway = Annotated[bool, typer.Option(help="Do it although something speaks against it.")]


@app.command(epilog="Example: soak unit add SP40-1017 --model ferrow-sp-40 --tag K1")
def add(
    context: typer.Context,
    serial: Annotated[str, typer.Argument(metavar="SERIAL", help="As on the type label.")],
    model: Annotated[str, typer.Option(help="Its model sheet in fixtures/models, without .toml.")],
    tag: Annotated[
        str, typer.Option(help="The bench's own short code; else the next U number.")
    ] = "",
    bought: On = "",
    by: By = "",
    anyway: Anyway = False,
) -> None:
    """Add a unit."""
    from soak.desk import units

    _say(units.add(context.obj, serial, model=model, tag=tag, bought=bought, by=by, anyway=anyway))


@app.command(name="list", epilog="Example: soak unit list")
def list_units(
    context: typer.Context,
    json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """List all units."""
    from soak.desk import units

    _say(units.listing(context.obj, as_json=json))


@app.command(epilog="Example: soak unit show K1")
def show(
    context: typer.Context,
    unit: Unit,
    json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Show a unit's card: everything that happened to it."""
    from soak.desk import units

    _say(units.card(context.obj, unit, as_json=json))


@app.command(epilog='Example: soak unit repair K1 "video port re-soldered" --function video')
def repair(
    context: typer.Context,
    unit: Unit,
    what: Annotated[str, typer.Argument(metavar="WHAT", help="What was done, in plain words.")],
    function: Annotated[str, typer.Option(help="The model sheet's function it gave back.")],
    kind: Annotated[
        str, typer.Option(help="rework, repair, part replaced or donor part.")
    ] = "repair",
    part: Annotated[str, typer.Option(help="The part put in.")] = "",
    batch: Annotated[str, typer.Option(help="Its batch, or the unit it came from.")] = "",
    on: On = "",
    by: By = "",
) -> None:
    """Record a repair."""
    from soak.desk import units

    given = {"kind": kind, "part": part, "batch": batch, "on": on, "by": by}
    _say(units.repair(context.obj, unit, what, function, given))


@app.command(epilog="Example: soak unit details K1")
def details(context: typer.Context, unit: Unit) -> None:
    """Write the file for what only people know: the claim, a safety test, defects."""
    from soak.desk import units

    _say(units.details(context.obj, unit))


@app.command(epilog="Example: soak unit opened K1 'paste renewed'")
def opened(
    context: typer.Context,
    unit: Unit,
    why: Annotated[str, typer.Argument(metavar="WHY", help="Why it was opened again.")],
    on: On = "",
    by: By = "",
) -> None:
    """Say that a unit was opened: earlier evidence counts only against it."""
    from soak.desk import units

    _say(units.opened(context.obj, unit, why, on=on, by=by))


@app.command(epilog='Example: soak unit wiped K1 --how reset --verified "read back" --by JD')
def wiped(
    context: typer.Context,
    unit: Unit,
    how: Annotated[str, typer.Option(help="How personal data was removed.")],
    verified: Annotated[str, typer.Option(help="How that was verified.")],
    by: Annotated[str, typer.Option(help="Who did it.")],
    on: On = "",
) -> None:
    """Record that personal data was removed."""
    from soak.desk import units

    _say(units.wiped(context.obj, unit, how=how, verified=verified, by=by, on=on))


@app.command(epilog='Example: soak unit sold K1 --where "own shop" --price 49.90')
def sold(
    context: typer.Context,
    unit: Unit,
    where: Annotated[str, typer.Option(help="Where it was sold.")],
    price: Annotated[str, typer.Option(help="In the bench's own currency.")] = "",
    report: Annotated[str, typer.Option(help="Which report the listing showed.")] = "",
    on: On = "",
    by: By = "",
    anyway: Anyway = False,
) -> None:
    """Record a sale."""
    from soak.desk import units

    given = {"price": price, "report": report, "on": on, "by": by}
    _say(units.sold(context.obj, unit, where, given, anyway=anyway))


@app.command(epilog="Example: soak unit back K1 'no picture once warm'")
def back(
    context: typer.Context,
    unit: Unit,
    complaint: Annotated[str, typer.Argument(metavar="COMPLAINT", help="In the buyer's words.")],
    hazard: Annotated[str, typer.Option(help="smoke, shock or burn, if there was one.")] = "",
    on: On = "",
    by: By = "",
) -> None:
    """Record that a sold unit came back."""
    from soak.desk import units

    _say(units.back(context.obj, unit, complaint, hazard=hazard, on=on, by=by))


@app.command(
    epilog='Example: soak unit settle K1 --found "crumb in the fan" --done cleaned --by SM'
)
def settle(
    context: typer.Context,
    unit: Unit,
    found: Annotated[str, typer.Option(help="What was found to be the cause.")],
    done: Annotated[str, typer.Option(help="What was done about it.")],
    by: Annotated[str, typer.Option(help="Who found and did it.")],
    on: On = "",
) -> None:
    """Settle the open hazards of a unit: smoke, shock or burn that it came back for."""
    from soak.desk import corrections

    _say(corrections.settle(context.obj, unit, found=found, done=done, by=by, on=on))


@app.command(epilog='Example: soak unit withdraw K1 7 --because "it was K2 that was sold" --by SM')
def withdraw(
    context: typer.Context,
    unit: Unit,
    entry: Entry,
    because: Because,
    by: Annotated[str, typer.Option(help="Who withdraws it.")],
) -> None:
    """Withdraw an entry that is wrong: it stays on the card, crossed out, and no longer counts.

    To withdraw a withdrawal or a correction brings back what was there before.
    """
    from soak.desk import corrections

    _say(corrections.withdraw(context.obj, unit, entry, because=because, by=by))


@app.command(
    epilog='Example: soak unit correct K1 1 --serial SP40-1017 --because "misread" --by SM'
)
def correct(
    context: typer.Context,
    unit: Unit,
    entry: Entry,
    because: Because,
    by: Annotated[str, typer.Option(help="Who corrects it.")],
    serial: Annotated[str, typer.Option(help="Of the entry at which the unit was added.")] = "",
    what: Annotated[str, typer.Option(help="Of a repair, an opening (why), or a photograph.")] = "",
    function: Annotated[str, typer.Option(help="Of a repair.")] = "",
    kind: Annotated[str, typer.Option(help="Of a repair.")] = "",
    part: Annotated[str, typer.Option(help="Of a repair.")] = "",
    batch: Annotated[str, typer.Option(help="Of a repair.")] = "",
    how: Annotated[str, typer.Option(help="Of a wiping.")] = "",
    verified: Annotated[str, typer.Option(help="Of a wiping.")] = "",
    where: Annotated[str, typer.Option(help="Of a sale.")] = "",
    price: Annotated[str, typer.Option(help="Of a sale.")] = "",
    report: Annotated[str, typer.Option(help="Of a sale.")] = "",
    complaint: Annotated[str, typer.Option(help="Of a come-back.")] = "",
    hazard: Annotated[str, typer.Option(help="Of a come-back.")] = "",
    found: Annotated[str, typer.Option(help="Of a settled hazard.")] = "",
    done: Annotated[str, typer.Option(help="Of a settled hazard.")] = "",
    on: Annotated[str, typer.Option(help="When it happened: a day, or a day and an hour.")] = "",
    anyway: Anyway = False,
) -> None:
    """Correct an entry in which something was typed wrong; the old words stay on the card.

    `none` leaves a word empty: --hazard none, --part none, --price none.
    """
    from soak.desk import corrections

    new = {
        "serial": serial,
        "what": what,
        "function": function,
        "kind": kind,
        "part": part,
        "batch": batch,
        "how": how,
        "verified": verified,
        "where": where,
        "price": price,
        "report": report,
        "complaint": complaint,
        "hazard": hazard,
        "found": found,
        "done": done,
    }
    text = corrections.correct(
        context.obj, unit, entry, new, on=on, because=because, by=by, anyway=anyway
    )
    _say(text)


@app.command(epilog='Example: soak unit photo K1 front.jpg --what "before packing"')
def photo(
    context: typer.Context,
    unit: Unit,
    file: Annotated[str, typer.Argument(metavar="FILE", help="A JPEG or PNG; it is copied.")],
    what: Annotated[str, typer.Option(help="What it shows, such as: before packing, packed.")],
    on: On = "",
    by: By = "",
) -> None:
    """Keep a photograph of a unit, tied to the seal of its newest soak."""
    from soak.desk import photographs

    _say(photographs.photograph(context.obj, unit, file, what=what, by=by, on=on))


@app.command(epilog="Example: soak unit export K1 out/K1")
def export(
    context: typer.Context,
    unit: Unit,
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="A new or empty folder.")],
) -> None:
    """Copy everything about a unit into one sealed folder, for an inspector or a dispute."""
    from soak.desk.trust import unit_export

    made = unit_export.export_unit(context.obj, unit, folder)
    _say(made.text)
    raise typer.Exit(int(made.code))


def _say(text: Output) -> None:
    echo(text)
