"""Link: a small computer plays a stick in the unit's port and watches from the device's side."""

import contextlib
from collections.abc import AsyncIterator, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Literal, Protocol

import trio
from pydantic import Field

from soak.bench import nature
from soak.bench.readings import BACK_OFF_S
from soak.bench.registry import Tools, driver
from soak.bench.stand_in.client import Connection, Unreached, connect
from soak.bench.stand_in.gadget import Gadget, StickPlayed
from soak.bench.stand_in.gadget_state import Port
from soak.bench.stand_in.gadget_watch import Status
from soak.bench.stand_in.local import LocalStand
from soak.bench.stand_in.story import LinkStory
from soak.bench.stand_in.words import PORT, Unfit, read_key
from soak.errors import BenchFault, Mistake, told_of
from soak.frozen.wiring import Claim, LinkWired
from soak.mistakes import fit
from soak.natures import Nature
from soak.records import Json, Reading, State
from soak.words import msg

_LOOK_LIMIT_S = 10.0
"""A look at what stands behind it may take so long, s. Our own choice."""


class StoodIn(LinkWired):
    """Settings of a stand-in: over the network (`stand_in`, `key_file`), or here (`image`).

    Attributes
    ----------
    stand_in : str
        Address of the small computer, `"192.168.7.20"` or `"192.168.7.20:7417"`.
    key_file : str
        The key it was started with.
    image : str
        File with the stick's content, where this computer itself plays the stick.
    udc : str
        Its device-mode port, where there are several.
    read_only : bool
        Whether the unit may not write to `image`.
    may_sleep : bool
        Whether the unit puts an idle port to sleep, which else counts as gone. Over the network
        the stand-in is told that itself.
    port : str
        The unit's USB port that the stand-in is plugged into.
    """

    driver: Literal["stood_in"]
    stand_in: str = ""
    key_file: str = ""
    image: str = ""
    udc: str = ""
    read_only: bool = False
    may_sleep: bool = False
    port: str = Field(min_length=1)

    @fit
    def _one_way(self) -> Iterator[Mistake]:
        if bool(self.stand_in) == bool(self.image):
            yield Mistake(
                "", msg("needs either stand_in (and key_file), or image; give one of them")
            )
        if self.stand_in and not self.key_file:
            yield Mistake("", msg("needs key_file, the key the stand-in was started with"))
        try:
            self.place()
        except ValueError as fault:
            yield Mistake("stand_in", told_of(fault))

    def place(self) -> tuple[str, int]:
        """Return address and port of the stand-in."""
        address, colon, port = self.stand_in.rpartition(":")
        if not colon:
            return self.stand_in, PORT
        if not port.isdecimal() or not 0 < int(port) < 65536:
            raise ValueError(f"{self.stand_in!r} is no ADDRESS or ADDRESS:PORT")
        return address, int(port)

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.stand_in or f"usb device port {self.udc}"),)


class Stand(Protocol):
    """Where statuses come from: the network, or this computer."""

    @property
    def identity(self) -> Mapping[str, Any]:
        """What plays the stick."""
        ...

    def statuses(self) -> AsyncIterator[Status]:
        """Yield what the unit does."""
        ...

    async def aclose(self) -> None:
        """Let go; twice is safe."""
        ...


class StoodInLink:
    """The link as the stand-in sees it; a stand-in that is lost is looked for again."""

    def __init__(self, name: str, wired: StoodIn, tools: Tools) -> None:
        self._name = name
        self._wired = wired
        self._tools = tools
        self._stand: Stand | None = None
        self._identity: dict[str, Any] = {"driver": "stood_in", "stand_in": wired.stand_in}

    @property
    def identity(self) -> Json:
        """Where the stand-in is and what it said of itself."""
        return self._identity

    async def begin(self) -> None:
        """Reach the stand-in for the first time.

        Raises
        ------
        BenchFault
            In one sentence, if it cannot be reached or used.
        """
        try:
            self._stand = await self._reach()
        except (Unreached, Unfit) as fault:
            raise BenchFault(self._name, told_of(fault)) from None

    async def changes(self) -> AsyncIterator[State | Reading]:
        """Yield states (seen, gone, blind), speeds and resets."""
        story = LinkStory(self._name)
        failures = 0
        while True:
            try:
                if self._stand is None:
                    self._stand = await self._reach()
                async with contextlib.aclosing(_generator(self._stand)) as statuses:
                    async for status in statuses:
                        failures = 0
                        for record in story.take(trio.current_time(), status):
                            yield record
            except (Unreached, Unfit) as fault:
                for record in story.blind(trio.current_time(), told_of(fault)):
                    yield record
            await self.aclose()
            await trio.sleep(BACK_OFF_S[min(failures, len(BACK_OFF_S) - 1)])
            failures += 1

    async def aclose(self) -> None:
        """Hang up, or unplug the stick; twice is safe."""
        stand = self._stand
        self._stand = None
        if stand is not None:
            await stand.aclose()

    async def _reach(self) -> Stand:
        stand = await (self._connect() if self._wired.stand_in else self._play())
        self._identity["stand_in"] = dict(stand.identity)
        self._identity["nature"] = await self._tools.off_loop.call(_LOOK_LIMIT_S, self._is, stand)
        return stand

    def _is(self, stand: Stand) -> Nature:
        """Tell what plays the stick; blocks."""
        udc = str(stand.identity.get("udc", ""))
        if self._wired.stand_in and not nature.is_pretended(Path(udc)):
            return nature.of_address(self._wired.stand_in)
        return nature.of_udc(udc)

    async def _connect(self) -> Connection:
        key = read_key(Path(self._wired.key_file))
        address, port = self._wired.place()
        return await connect(address, port, key)

    async def _play(self) -> LocalStand:
        wired = self._wired
        played = StickPlayed(Path(wired.image), "SOAKSTANDIN1", wired.udc, wired.read_only)
        stand = LocalStand(
            Gadget(played),
            lambda udc: Port(udc).look,
            self._tools.off_loop,
            may_sleep=wired.may_sleep,
        )
        await stand.begin()
        return stand


def _generator(stand: Stand) -> Any:
    return stand.statuses()


@driver("link", "stood_in", StoodIn)
async def open_stood_in(name: str, wired: StoodIn, tools: Tools) -> StoodInLink:
    """Reach the stand-in; the unit need not have seen the stick yet."""
    link = StoodInLink(name, wired, tools)
    await link.begin()
    return link
