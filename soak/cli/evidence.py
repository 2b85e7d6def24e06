"""Verbs about evidence before there is any: what would it show, how much is needed."""

from typing import Annotated, Literal

import typer

from soak.cli.saying import echo

AsJson = Annotated[bool, typer.Option("--json", help="For programs.")]
Confidence = Annotated[float, typer.Option(help="Confidence level, such as 0.95.")]
SidesAsked = Annotated[
    Literal["one", "two"],
    typer.Option(help="One: how often at most. Two: at least, too; both hold together."),
]
MayFail = Annotated[
    int | None,
    typer.Option(min=0, max=100, help="With --show: for none up to so many failures."),
]

evidence = typer.Typer(
    help="What evidence shows, and how much of it is needed: both ways.", no_args_is_help=True
)
script = typer.Typer(help="What a script does and shows.", no_args_is_help=True)


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.add_typer(evidence, name="evidence")
    app.add_typer(script, name="script")


@evidence.command(epilog="Example: soak evidence starts --good 120")
def starts(
    good: Annotated[int | None, typer.Option(help="So many starts worked.")] = None,
    failed: Annotated[int, typer.Option(help="So many failed.")] = 0,
    show: Annotated[float | None, typer.Option(help="The failed share to show, as 0.01.")] = None,
    may_fail: MayFail = None,
    other_good: Annotated[
        int | None, typer.Option(help="Compare: so many starts of the others worked.")
    ] = None,
    other_failed: Annotated[int, typer.Option(help="Compare: so many of the others failed.")] = 0,
    sides: SidesAsked = "one",
    confidence: Confidence = 0.95,
    json: AsJson = False,
) -> None:
    """Say what starts show, how many starts show a share, or whether two shares differ."""
    from soak.desk.forecast import evidence_counts as desk

    asked = desk.Asked(confidence, sides, may_fail)
    made = desk.Starts(good, failed)
    other = desk.Starts(other_good, other_failed)
    echo(desk.starts(made, show, asked, other, as_json=json))


@evidence.command(epilog='Example: soak evidence hours --clean "8 h"')
def hours(
    clean: Annotated[str, typer.Option(help="Time watched; a plain number is hours.")] = "",
    faults: Annotated[
        int, typer.Option(help="Bouts of faults in that time: what comes close together is one.")
    ] = 0,
    show: Annotated[
        str, typer.Option(help='Mean time to show, as "100 h"; or faults per hour, 0.01.')
    ] = "",
    may_fail: MayFail = None,
    other_clean: Annotated[
        str, typer.Option(help="Compare: time the others were watched, as --clean.")
    ] = "",
    other_faults: Annotated[int, typer.Option(help="Compare: faults of the others.")] = 0,
    sides: SidesAsked = "one",
    confidence: Confidence = 0.95,
    json: AsJson = False,
) -> None:
    """Say what hours show, how many hours show a mean time, or whether two rates differ."""
    from soak.desk.forecast import evidence_counts as desk

    asked = desk.Asked(confidence, sides, may_fail)
    made = desk.Hours(clean, faults)
    other = desk.Hours(other_clean, other_faults)
    echo(desk.hours(made, show, asked, other, as_json=json))


@evidence.command(
    epilog="Example: soak evidence length --lives sold.csv --warranty 700 --per-hour 0.07 "
    "--failed-here 3 --came-back 500"
)
def length(
    context: typer.Context,
    warranty: Annotated[str, typer.Option(help="Running hours in the warranty.")],
    per_hour: Annotated[float, typer.Option(help="Cost of an hour of soaking.")],
    failed_here: Annotated[float, typer.Option(help="Cost of a failure on the bench.")],
    came_back: Annotated[float, typer.Option(help="Cost of a failure at the buyer's.")],
    table: Annotated[
        str, typer.Option("--lives", help="Table of lives, as for evidence lives; 20 failures.")
    ] = "",
    shape: Annotated[
        float | None, typer.Option(help="Or: Weibull shape, taken as known; below 1: early faults.")
    ] = None,
    scale: Annotated[str, typer.Option(help="And its scale; a plain number is hours.")] = "",
    json: AsJson = False,
) -> None:
    """Say which length of soak costs least, from the lives of many units of the bench's own."""
    from soak.desk.forecast import soak_length as desk

    costs = (per_hour, failed_here, came_back)
    bench = context.obj
    echo(desk.length(table, shape, scale, warranty, costs, bench=bench, as_json=json))


@evidence.command(epilog='Example: soak evidence lives sold.csv --age "8 h" --window "240 h"')
def lives(
    context: typer.Context,
    table: Annotated[
        str,
        typer.Argument(metavar="TABLE", help="CSV: unit,hours,failed; may have entry and group."),
    ],
    age: Annotated[str, typer.Option(help="Age at the sale; a plain number is hours.")] = "",
    window: Annotated[
        str, typer.Option(help="Say how likely it fails within so many running hours more.")
    ] = "",
    json: AsJson = False,
) -> None:
    """Say what the ages at failure of many units show: survival, a fit, repeats, two groups.

    Hours count from the repair, the soak included. Entry is the age from which on a failure would
    be in the table: of a sold unit the hours of its soak; by the ledger where it knows the unit.
    """
    from soak.desk.forecast import lives as desk

    text = desk.lives(table, bench=context.obj, age=age, window=window, as_json=json)
    echo(text)


@evidence.command(epilog='Example: soak evidence gone --seen 3 --in "4 h" --clean "7 h"')
def gone(
    seen: Annotated[
        int, typer.Option(help="In how many bouts the fault was seen before the repair.")
    ],
    seen_in: Annotated[str, typer.Option("--in", help="In how long; a plain number is hours.")],
    clean: Annotated[str, typer.Option(help="Time watched since the repair.")] = "",
    again: Annotated[int, typer.Option(help="In how many bouts it came again in that time.")] = 0,
    chance: Annotated[float, typer.Option(help="Silence by luck, at most.")] = 0.05,
    json: AsJson = False,
) -> None:
    """Say whether a fault is gone, and how long it must be quiet for that."""
    from soak.desk.forecast import evidence as desk

    echo(desk.gone(seen, seen_in, clean, again, chance, as_json=json))


@evidence.command(epilog="Example: soak evidence tries --passes 0.3 --number 3")
def tries(
    passes: Annotated[float, typer.Option(help="Chance that a bad unit passes one soak.")],
    number: Annotated[int, typer.Option(help="Number of soaks.")] = 3,
    json: AsJson = False,
) -> None:
    """Say how often a bad unit passes at least one of several soaks."""
    from soak.desk.forecast import evidence as desk

    echo(desk.tries(passes, number, as_json=json))


@evidence.command(epilog="Example: soak evidence plan --good 0.01 --bad 0.10")
def plan(
    good: Annotated[str, typer.Option(help='A good unit: failed share 0.01, or "100 h".')],
    bad: Annotated[str, typer.Option(help='A bad unit: failed share 0.10, or "10 h".')],
    alpha: Annotated[float, typer.Option(help="Risk of turning the good unit away.")] = 0.05,
    beta: Annotated[float, typer.Option(help="Risk of accepting the bad unit.")] = 0.10,
    json: AsJson = False,
) -> None:
    """Make a rule for stopping early, with its longest length and its true risks."""
    from soak.desk.forecast import evidence as desk

    echo(desk.plan(good, bad, alpha, beta, as_json=json))


@script.command(epilog="Example: soak script explain overnight --fixture left --model ferrow-sp-40")
def explain(
    context: typer.Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="A script's file or name.")],
    fixture: Annotated[str, typer.Option(help="The fixture it would run on.")] = "",
    model: Annotated[str, typer.Option(help="The model of unit.")] = "",
    json: AsJson = False,
) -> None:
    """Say what a script will have shown if all goes well, how long it takes, what it cannot."""
    from soak.desk.forecast import explaining as desk

    echo(desk.explain(context.obj, file, fixture, model, as_json=json))
