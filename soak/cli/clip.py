"""`soak clip ...`: coded clips."""

from typing import Annotated

import typer

from soak.cli.saying import echo

app = typer.Typer(
    help="Coded clips: prove that a unit reads its stick, decodes and shows every frame.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
File = Annotated[str, typer.Argument(metavar="FILE", help="The video file.")]


def add_to(program: typer.Typer) -> None:
    """Add the verbs."""
    program.add_typer(app, name="clip")


@app.command(epilog="Example: soak clip make stick/soak.mp4 --seconds 300")
def make(
    file: File,
    seconds: Annotated[float, typer.Option(help="Length.")] = 300.0,
    size: Annotated[str, typer.Option(help="Width and height.")] = "1280x720",
    rate: Annotated[float, typer.Option(help="Pictures a second.")] = 30.0,
    clip: Annotated[int, typer.Option(help="A number for the clip, 0 to 255.")] = 0,
    encoder: Annotated[str, typer.Option(help="plain, or h264 (extra soak[clip]).")] = "plain",
) -> None:
    """Make a clip for the stick: numbered frames with an error check, colours, a moving bar."""
    from soak.desk.proof import clip as desk

    echo(desk.make(file, seconds=seconds, size=size, rate_hz=rate, clip=clip, encoder=encoder))


@app.command(epilog="Example: soak clip read recording.mkv --frames 9000")
def read(
    file: File,
    frames: Annotated[int, typer.Option(help="Frames in the clip, as `clip make` said.")],
    json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Read a recording of the clip: which frames came, were lost, stood still, in which colours."""
    from soak.desk.proof import clip as desk

    echo(desk.read_back(file, frames, as_json=json))
