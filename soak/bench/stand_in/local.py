"""A stick played by the bench's own computer: gadget and looks without a network."""

from collections.abc import AsyncIterator, Callable, Mapping
from typing import Any

import trio

from soak.bench.stand_in.client import Unreached
from soak.bench.stand_in.gadget import Gadget, GadgetFault
from soak.bench.stand_in.gadget_state import Glimpse
from soak.bench.stand_in.gadget_watch import GadgetWatch, Status
from soak.bench.stand_in.story import LOOKS_EVERY_S
from soak.bench.stand_in.words import EVERY_S
from soak.errors import told_of
from soak.roles import OffLoop
from soak.words import msg

_LIMIT_S = 10.0
"""The kernel has so long to plug or unplug the stick that is played, s. Our own choice."""


class LocalStand:
    """Plays the stick here.

    Parameters
    ----------
    gadget : Gadget
    look : callable
        Given the port's name, returns what looks at it.
    """

    def __init__(
        self,
        gadget: Gadget,
        look: Callable[[str], Callable[[], Glimpse]],
        off_loop: OffLoop,
        *,
        may_sleep: bool,
    ) -> None:
        self._gadget = gadget
        self._make_look = look
        self._off_loop = off_loop
        self._watch = GadgetWatch(may_sleep=may_sleep)
        self._look: Callable[[], Glimpse] | None = None

    @property
    def identity(self) -> Mapping[str, Any]:
        """Which port plays it."""
        return {"udc": self._gadget.udc}

    async def begin(self) -> None:
        """Plug the stick.

        Raises
        ------
        Unreached
            In one sentence, why this computer cannot play it.
        """
        try:
            await self._off_loop.call(_LIMIT_S, self._gadget.plug)
        except GadgetFault as fault:
            raise Unreached(told_of(fault)) from None
        except TimeoutError:
            raise Unreached(msg("the kernel does not answer; restart this computer")) from None
        self._look = self._make_look(self._gadget.udc)

    async def statuses(self) -> AsyncIterator[Status]:
        """Yield what the unit does, at each change and each second.

        Raises
        ------
        Unreached
            When the port is no longer there.
        """
        assert self._look is not None
        before: Status | None = None
        said_s = 0.0
        while True:
            now_s = trio.current_time()
            try:  # a look reads the kernel's memory: it does not block
                now = self._watch.take(now_s, self._look())
            except OSError as fault:
                raise Unreached(
                    msg("the device-mode port is gone ({why})", why=str(fault.strerror))
                ) from None
            changed = before is None or (now.at, now.enumerations) != (
                before.at,
                before.enumerations,
            )
            if changed or now_s >= said_s + EVERY_S:
                before = now
                said_s = now_s
                yield now
            await trio.sleep(LOOKS_EVERY_S)

    async def aclose(self) -> None:
        """Unplug the stick; twice is safe."""
        await self._off_loop.call(_LIMIT_S, self._gadget.close)
