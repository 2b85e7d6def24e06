"""Verbs about the picture: look through a recording, teach a card's no-signal picture."""

from typing import Annotated

import typer

from soak.cli.saying import echo, progress
from soak.errors import Stopped
from soak.live.prompt import asked
from soak.words import NOTHING_SAID, Message, joined, msg

FILES = "Recordings: videos, stream addresses, or JPEG pictures back to back (NAME.idx.json)."
AS_CSV = "Table clip,start_frame,end_frame,kind: numbers from 0, first and last both included."
TEACH = "The card's own no-signal picture, JPEG or PNG; may be given again."
AS = (
    "What to learn: no-signal, protected (shown in place of protected output), menu (the unit's "
    "own, with all its colours), or rests."
)
MINUTES = "How long a good unit is watched for its rests."
PROTECTED = "What is shown in place of protected output, likewise."
MENU = "A picture of the unit's own with all its colours; may be given again."
MOVING = "Whether motion is promised: only then is a still picture frozen."
FINE = "See one picture in so many fully, for tint, sparkle, torn, block; 0: not at all."


def add_to(app: typer.Typer) -> None:
    """Add the verbs."""
    app.command(epilog="Example: soak picture night.mjpeg --csv")(picture)
    app.command(epilog="Example: soak teach fixtures/left.toml")(teach)


def picture(
    files: Annotated[list[str], typer.Argument(metavar="FILE...", help=FILES)],
    csv: Annotated[bool, typer.Option("--csv", help=AS_CSV)] = False,
    json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
    teach: Annotated[list[str] | None, typer.Option(metavar="FILE", help=TEACH)] = None,
    protected: Annotated[list[str] | None, typer.Option(metavar="FILE", help=PROTECTED)] = None,
    menu: Annotated[list[str] | None, typer.Option(metavar="FILE", help=MENU)] = None,
    moving: Annotated[bool | None, typer.Option("--moving/--still", help=MOVING)] = None,
    fine_every: Annotated[int, typer.Option(min=0, max=1000, help=FINE)] = 4,
) -> None:
    """Look through recordings: picture, black, frozen ..., from which picture to which.

    A stream without an end is ended by Ctrl-C; what came until then is told.
    """
    from soak.desk.proof import recordings as desk

    asked = desk.Asked(
        taught=tuple(teach or ()),
        protected=tuple(protected or ()),
        menu=tuple(menu or ()),
        moving=moving,
        fine_every=fine_every,
        tell=progress,
    )
    looked = []
    for file in files:
        one = desk.look_at(file, asked)
        progress(NOTHING_SAID)
        for complaint in one.complaints:
            echo(complaint, err=True)
        looked.append(one)
    form = desk.as_csv if csv else desk.as_json if json else desk.as_text
    echo(form(looked))


def teach(
    context: typer.Context,
    fixture: Annotated[str, typer.Argument(metavar="FIXTURE", help="The fixture file.")],
    shows: Annotated[str, typer.Option("--as", metavar="WHAT", help=AS)] = "no-signal",
    minutes: Annotated[float, typer.Option(min=0.1, max=1440, help=MINUTES)] = 20.0,
) -> None:
    """Keep what a capture card shows in place of the unit's picture, so that a soak knows it.

    Without a signal it is compared with what the unit showed before: a card that keeps its last
    picture is refused. With --as rests: learn from a good unit how long its picture stands still
    and is black.
    """
    from soak.desk.proof import teach as desk
    from soak.desk.proof.teach_rests import teach_rests

    def ask(what: Message) -> object:
        typed = asked(joined("", [what, ":"]))
        if not typed:
            raise Stopped(msg("stopped: nobody answered, and nothing was kept"))
        return typed.strip()

    if shows == "rests":
        echo(teach_rests(context.obj, fixture, ask, minutes * 60))
    else:
        echo(desk.teach(context.obj, fixture, ask, shows))
