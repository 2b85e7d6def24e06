"""The verb of a small computer that plays a stick: stand-in."""

from pathlib import Path
from typing import Annotated

import typer

from soak.cli.saying import echo


def add_to(app: typer.Typer) -> None:
    """Add the verb."""
    app.command(
        name="stand-in",
        epilog="Example: soak stand-in stick.img --at 192.168.7.20 --key bench.key",
    )(stand_in)


def stand_in(
    image: Annotated[
        Path | None, typer.Argument(metavar="[IMAGE]", help="File with the stick's content.")
    ] = None,
    at: Annotated[
        str, typer.Option(help="This computer's address on the bench's network.")
    ] = "127.0.0.1",
    tcp_port: Annotated[int, typer.Option(help="Where to listen.", min=0, max=65535)] = 7417,
    key: Annotated[Path | None, typer.Option(help="The key file it shares with the bench.")] = None,
    new_key: Annotated[Path | None, typer.Option(help="Make a key file and end.")] = None,
    udc: Annotated[str, typer.Option(help="The device-mode port, where there are several.")] = "",
    serial: Annotated[str, typer.Option(help="Serial number the stick tells.")] = "SOAKSTANDIN1",
    read_only: Annotated[bool, typer.Option(help="The unit may not write.")] = False,
    may_sleep: Annotated[
        bool, typer.Option(help="The unit puts an idle port to sleep; that is not gone.")
    ] = False,
    any: Annotated[
        bool, typer.Option("--any", help="Listen beyond the bench's own network.")
    ] = False,
) -> None:
    """Play a stick in the unit's port, and tell the bench what the unit does with it.

    For a small Linux computer whose USB port can be a device; as root. It only watches and serves
    what it saw: nobody can switch or change anything over the network.
    """
    from soak.bench.stand_in.gadget import StickPlayed
    from soak.desk.hands import stand_in as desk

    if new_key is not None:
        echo(desk.make_key(new_key))
        return
    if image is None or key is None:
        raise typer.BadParameter("give IMAGE and --key, or --new-key FILE")
    played = StickPlayed(image, serial, udc, read_only)
    wanted = desk.Wanted(played, at, tcp_port, key, any, may_sleep)
    desk.stand_in(wanted, lambda text: echo(text, err=True))
