"""Verbs that read evidence: show, judge, export."""

from pathlib import Path
from typing import Annotated

import typer

from soak.cli.saying import echo
from soak.words import Output

Soak = Annotated[
    str, typer.Argument(metavar="SOAK", help="Its id, its beginning, a path, or last.")
]
AsJson = Annotated[bool, typer.Option("--json", help="For programs.")]


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak show last 3:12:00")(show)
    app.command(epilog="Example: soak judge last")(judge)
    app.command(epilog='Example: soak withdraw last heatsink --because "typed 25 for 52" --by SM')(
        withdraw
    )
    app.command(epilog="Example: soak export last out/ --as csv")(export)


def show(
    context: typer.Context,
    soak: Annotated[
        str, typer.Argument(metavar="[SOAK]", help="One soak; without it, every unit.")
    ] = "",
    time: Annotated[
        str, typer.Argument(metavar="[TIME]", help="Soak time such as 3:12:00 or 3.2 h.")
    ] = "",
    json: AsJson = False,
) -> None:
    """Show where every unit stands; one soak; or what was seen at a time of it."""
    from soak.desk.morning import show as desk

    echo(desk.show(context.obj, soak, time, as_json=json))


def judge(
    context: typer.Context,
    soak: Soak = "last",
    script: Annotated[str, typer.Option(help="Judge by another script's demands too.")] = "",
    everything: Annotated[
        bool, typer.Option("--all", help="Judge the whole history by today's rules.")
    ] = False,
    whole: Annotated[
        bool, typer.Option("--whole", help="Say every finding, not the worst alone.")
    ] = False,
    processes: Annotated[int, typer.Option(help="With --all: how many at a time.", min=1)] = 1,
    json: AsJson = False,
) -> None:
    """Judge the job a soak belongs to: the grade, and what it rests on, the worst first."""
    from soak.desk.morning import judging as desk

    if everything:
        echo(_history(context.obj, processes, json))
        return
    text, code = desk.judge_soak(context.obj, soak, script, whole=whole, as_json=json)
    echo(text)
    raise typer.Exit(code)


def withdraw(
    context: typer.Context,
    soak: Soak,
    demand: Annotated[
        str, typer.Argument(metavar="[DEMAND]", help="Its id or a part; without it, list them.")
    ] = "",
    because: Annotated[str, typer.Option(help="Why it was wrong.")] = "",
    by: Annotated[str, typer.Option(help="Who says so.")] = "",
) -> None:
    """Withdraw a demand whose limit was wrong; what failed it stays on the page, with the reason.

    A looser script does not do that: each soak stays judged by what was demanded of it.
    """
    from soak.desk import withdrawing as desk

    echo(desk.withdraw(context.obj, soak, demand, because, by))


def export(
    context: typer.Context,
    soak: Soak,
    folder: Annotated[str, typer.Argument(metavar="FOLDER", help="Where the files go.")],
    form: Annotated[str, typer.Option("--as", help="csv or parquet.")] = "csv",
) -> None:
    """Export readings, states and marks as tables."""
    from soak.desk.morning import judging as desk

    echo(desk.export_soak(context.obj, soak, folder, form))


def _history(bench: Path, processes: int, as_json: bool) -> Output:
    from concurrent.futures import ProcessPoolExecutor

    from soak.desk.morning import comparing as desk

    if processes == 1:
        return desk.history_again(bench, as_json=as_json)
    with ProcessPoolExecutor(processes) as pool:
        return desk.history_again(bench, pool.map, as_json=as_json)
