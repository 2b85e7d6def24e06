"""Play a stick and tell benches what the unit does with it: `soak stand-in`."""

import platform
import signal
from dataclasses import dataclass
from pathlib import Path

import trio

from soak import __version__
from soak.bench.stand_in.gadget import CONFIGFS, Gadget, GadgetFault, StickPlayed
from soak.bench.stand_in.gadget_state import PROC, UDCS, Port
from soak.bench.stand_in.server import StandIn, serve_stand_in
from soak.bench.stand_in.words import Unfit, fit_to_bind, new_key, read_key
from soak.errors import BenchFault, UsageError, told_of
from soak.words import Message, Tell, msg


@dataclass(frozen=True, slots=True)
class Wanted:
    """What `soak stand-in` was asked for.

    Attributes
    ----------
    address, port
        Where to listen.
    anywhere : bool
        Listen beyond the bench's own network, too.
    key : Path
        The key file.
    may_sleep : bool
        Whether the unit puts an idle port to sleep.
    """

    played: StickPlayed
    address: str
    port: int
    key: Path
    anywhere: bool = False
    may_sleep: bool = False


@dataclass(frozen=True, slots=True)
class Kernel:
    """Where the kernel shows gadgets, ports and threads; a test puts folders in their place."""

    configfs: Path = CONFIGFS
    udcs: Path = UDCS
    proc: Path = PROC


def make_key(file: Path) -> Message:
    """Make a key file; return what to do with it."""
    try:
        new_key(file)
    except Unfit as fault:
        raise UsageError(told_of(fault)) from None
    return msg(
        "{file}: made; copy it to the bench too, and name it there as key_file", file=str(file)
    )


def stand_in(wanted: Wanted, say: Tell, gadget: Gadget | None = None) -> None:
    """Play the stick until Ctrl-C.

    Raises
    ------
    UsageError, BenchFault
        One sentence each; the stick is unplugged whatever happens.
    """
    kernel = Kernel()
    try:
        fit_to_bind(wanted.address, anywhere=wanted.anywhere)
        key = read_key(wanted.key)
    except Unfit as fault:
        raise UsageError(told_of(fault)) from None
    gadget = gadget or Gadget(wanted.played, kernel.configfs, kernel.udcs)
    try:
        gadget.plug()
    except GadgetFault as fault:
        raise BenchFault("stand-in", told_of(fault)) from None
    try:
        trio.run(_serve, wanted, key, gadget.udc, kernel, say)
    finally:
        gadget.close()
        say(msg("the stick is unplugged"))


async def _serve(wanted: Wanted, key: bytes, udc: str, kernel: Kernel, say: Tell) -> None:
    port = Port(udc, kernel.udcs, kernel.proc)
    identity = {
        "program": __version__,
        "kernel": platform.release(),
        "udc": udc,
        "serial": wanted.played.serial,
        "image_bytes": wanted.played.image.stat().st_size,
        "read_only": wanted.played.read_only,
    }
    stand_in = StandIn(port.look, key, identity, may_sleep=wanted.may_sleep, say=say)
    try:
        async with trio.open_nursery() as nursery:
            nursery.start_soon(_until_stopped, nursery.cancel_scope)
            listens = await nursery.start(serve_stand_in, stand_in, wanted.address, wanted.port)
            say(
                msg(
                    "plays a stick at {udc}, listens at {address}:{listens}; Ctrl-C ends it",
                    udc=udc,
                    address=wanted.address,
                    listens=listens,
                )
            )
    except BaseExceptionGroup as group:
        fault = _first_oserror(group)
        if fault is None:
            raise
        why = fault.strerror or str(fault)
        raise BenchFault(
            "stand-in",
            msg(
                "{address}:{port} or {udc}: {why}",
                address=wanted.address,
                port=wanted.port,
                udc=udc,
                why=why,
            ),
        ) from None


async def _until_stopped(scope: trio.CancelScope) -> None:
    with trio.open_signal_receiver(signal.SIGINT, signal.SIGTERM) as arriving:
        async for _ in arriving:
            scope.cancel()
            return


def _first_oserror(group: BaseExceptionGroup[BaseException]) -> OSError | None:
    for exception in group.exceptions:
        errors = (
            _first_oserror(exception) if isinstance(exception, BaseExceptionGroup) else exception
        )
        if isinstance(errors, OSError):
            return errors
    return None
