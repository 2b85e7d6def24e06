"""The verbs of the command line, put together."""

from pathlib import Path
from typing import Annotated

import typer

from soak import __version__
from soak.cli import (
    beginning,
    carrying,
    clip,
    comparing,
    evidence,
    grading,
    heating,
    keeping,
    picture,
    plugging,
    reporting,
    running,
    standing_in,
    trust,
    units,
    wiring,
)
from soak.cli.mistyped import Verbs
from soak.cli.saying import echo
from soak.desk.soaking.guard_told import guard_says
from soak.outside import is_file
from soak.reader import of_environment, speak
from soak.words import Data, joined

app = typer.Typer(
    name="soak",
    cls=Verbs,
    help="Soak a repaired unit under scripted checks, keep the evidence, grade it for sale. "
    "A function test: soak is not a safety device and no electrical safety test.",
    pretty_exceptions_enable=False,
    add_completion=False,
    rich_markup_mode=None,
)
for verbs in (
    beginning,
    running,
    grading,
    picture,
    reporting,
    trust,
    wiring,
    carrying,
    standing_in,
    evidence,
    plugging,
    comparing,
    clip,
    heating,
    keeping,
):
    verbs.add_to(app)
app.add_typer(units.app, name="unit")


def _version(wanted: bool) -> None:
    if wanted:
        echo(joined(" ", ["soak", __version__]))
        raise typer.Exit


@app.callback(invoke_without_command=True)
def common(
    context: typer.Context,
    bench: Annotated[
        Path, typer.Option(help="The bench's folder: fixtures, soaks, reports, ledger.")
    ] = Path(),
    trace: Annotated[bool, typer.Option(help="Show where an error comes from.")] = False,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version.")
    ] = False,
) -> None:
    """Take the options that stand before the verb; without one, show how the bench stands."""
    context.obj = bench
    speak(lambda: _language(bench))
    for line in guard_says(bench):
        echo(line, err=True)
    if context.invoked_subcommand is None:
        _how_it_stands(context, bench)


def _how_it_stands(context: typer.Context, bench: Path) -> None:
    """Show the bench's units, or the help where there is no bench yet."""
    from soak.desk.bench_folder import BenchFolder

    if not is_file(BenchFolder(bench).ledger):
        echo(Data(context.get_help()))
        return
    from soak.desk.morning.overview import overview

    echo(overview(bench, as_json=False))


def _language(bench: Path) -> str:
    """Return the language that is spoken at a bench: its own, else that of the environment."""
    from soak.desk.bench_card import own_language

    return own_language(bench) or of_environment()
