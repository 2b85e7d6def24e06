"""What runner and guard say to each other: JSON lines over a local socket.

Each line is one object. The runner says what it wants under `do`, the guard what happens under
`said`; `docs/explanation/the-guard.md` lists them. Who may use the socket is who may enter its
folder (mode 0700): there is no other secret.
"""

import json
import math
from contextlib import suppress
from typing import Any

import trio

from soak.errors import BenchFault
from soak.outside import json_of
from soak.records import Json, Mark, Reading, State, from_json, kind_of, to_json
from soak.words import Message, just
from soak.words_json import as_plain, of_plain

WIRE_FORMAT = 1
"""Decides nothing, a version: of what is said; a guard of another version is not joined."""

BEAT_EVERY_S = 0.25
"""So often each end says that it is alive. Our own choice."""

_LONGEST_LINE_BYTES = 1 << 20
"""Decides nothing: a longer line is not from a guard or a soak."""


class OtherEndGone(ConnectionError):
    """Report that whoever was at the other end of the line is not there any more."""


class Line:
    """JSON lines both ways over one stream.

    `tell` never waits; `deliver` carries what was told, as long as it runs.
    """

    def __init__(self, stream: trio.abc.Stream) -> None:
        self._stream = stream
        self._came = bytearray()
        self._told, self._tells = trio.open_memory_channel[Json](math.inf)

    def tell(self, message: Json) -> None:
        """Queue a message; one for an end that is gone is lost."""
        with suppress(trio.BrokenResourceError, trio.ClosedResourceError):
            self._told.send_nowait(message)

    @property
    def waiting(self) -> int:
        """How many messages the other end has not taken."""
        return self._told.statistics().current_buffer_used

    async def deliver(self) -> None:
        """Send what was told, until the other end is gone."""
        with suppress(OtherEndGone):
            async for message in self._tells:
                await self.send(message)

    async def send(self, message: Json) -> None:
        """Send one message now; not beside `deliver`.

        Raises
        ------
        OtherEndGone
        """
        try:
            await self._stream.send_all(json.dumps(message).encode() + b"\n")
        except (OSError, trio.BrokenResourceError, trio.ClosedResourceError):
            raise OtherEndGone("the other end is gone") from None

    async def hear(self) -> dict[str, Any]:
        """Return the next message.

        Raises
        ------
        OtherEndGone
            If the line is closed, or what comes over it is no message.
        """
        while (end := self._came.find(b"\n")) < 0:
            if len(self._came) > _LONGEST_LINE_BYTES:
                raise OtherEndGone("the other end says no lines")
            try:
                more = await self._stream.receive_some()
            except (OSError, trio.BrokenResourceError, trio.ClosedResourceError):
                more = b""
            if not more:
                raise OtherEndGone("the other end is gone")
            self._came += more
        line = bytes(self._came[:end])
        del self._came[: end + 1]
        try:
            message = json_of(line)
        except ValueError:
            raise OtherEndGone("the other end says no JSON") from None
        if not isinstance(message, dict):
            raise OtherEndGone("the other end says no message")
        return message

    async def aclose(self) -> None:
        """Close the line; twice is safe."""
        self._told.close()
        await self._stream.aclose()


def as_refusal(fault: BenchFault) -> Json:
    """Return why something is refused as it goes over the line."""
    return {
        "instrument": fault.instrument,
        "what": fault.what,
        "in_words": as_plain(fault.what),
    }


def as_fault(message: Json) -> BenchFault:
    """Return the fault that something was refused with; of a message that is none, its English."""
    sentence = just(str(message["what"]))
    with suppress(ValueError):
        words = of_plain(message.get("in_words"))
        sentence = words if isinstance(words, Message) else sentence
    return BenchFault(message["instrument"], sentence)


Said = Mark | Reading | State
"""What of the records goes over the line."""


def as_message(record: Said) -> Json:
    """Return a record as it goes over the line."""
    return {"kind": kind_of(record), "record": to_json(record)}


def as_record(message: Json) -> Said:
    """Return the record of a message.

    Raises
    ------
    OtherEndGone
        If it holds none: then whoever is at the other end is not who it should be.
    """
    try:
        record = from_json(str(message["kind"]), message["record"])
    except (KeyError, TypeError, ValueError):
        raise OtherEndGone("the other end says what is no record") from None
    if not isinstance(record, Mark | Reading | State):
        raise OtherEndGone("the other end says what is no record of an instrument")
    return record
