"""The bench's end of the network: a connection to a stand-in that proved the key."""

import os
from collections.abc import AsyncIterator, Mapping
from typing import Any

import trio

from soak.bench.stand_in.gadget_watch import Status
from soak.bench.stand_in.lines import Lines
from soak.bench.stand_in.words import VERSION, Unfit, heard, line, nonce, proof, proved, status_from
from soak.errors import told_of
from soak.words import Number, msg

_CONNECT_LIMIT_S = 5.0
"""A stand-in has so long to answer a connection, s. Our own choice."""
SILENT_S = 5.0
"""A stand-in speaks each second; after so long without a word nobody is there. Our own choice."""


class Unreached(Exception):
    """Report a stand-in that cannot be talked to, in one sentence."""


class Connection:
    """A connection over which each has proved the key to the other."""

    def __init__(
        self, stream: trio.SocketStream, lines: Lines, where: str, identity: Mapping[str, Any]
    ) -> None:
        self._stream = stream
        self._lines = lines
        self._where = where
        self.identity = identity

    async def statuses(self) -> AsyncIterator[Status]:
        """Yield what the stand-in says, at least each second.

        Raises
        ------
        Unreached
            When it leaves, falls silent or says what no stand-in says.
        """
        while True:
            try:
                with trio.fail_after(SILENT_S):
                    said = heard(await self._lines.next())
                found = status_from(said, trio.current_time())
            except trio.TooSlowError:
                why = msg("has said nothing for {silent_s} s", silent_s=Number(SILENT_S, "g"))
            except (trio.BrokenResourceError, trio.ClosedResourceError):
                why = msg("ended the connection")
            except Unfit as fault:
                why = msg("said what cannot be used: {why}", why=told_of(fault))
            else:
                yield found
                continue
            raise Unreached(
                msg("the stand-in at {where} {why}; look at it", where=self._where, why=why)
            )

    async def aclose(self) -> None:
        """Hang up; twice is safe."""
        await trio.aclose_forcefully(self._stream)


async def connect(address: str, port: int, key: bytes) -> Connection:
    """Connect to a stand-in.

    Raises
    ------
    Unreached
        If nobody listens there, it speaks another version, or the keys differ.
    """
    where = f"{address}:{port}"
    stream: trio.SocketStream | None = None
    try:
        with trio.fail_after(_CONNECT_LIMIT_S):
            stream = await trio.open_tcp_stream(address, port)
            lines = Lines(stream)
            connection = Connection(stream, lines, where, await _greet(stream, lines, where, key))
        stream = None
        return connection
    except trio.TooSlowError:
        why = msg(
            "nobody answers at {where} within {connect_limit_s} s",
            where=where,
            connect_limit_s=Number(_CONNECT_LIMIT_S, "g"),
        )
    except OSError as fault:
        why = msg("{where} cannot be reached ({why})", where=where, why=_plain(fault))
    except (trio.BrokenResourceError, Unfit):
        why = msg("what answers at {where} is no stand-in", where=where)
    finally:
        if stream is not None:
            await trio.aclose_forcefully(stream)
    raise Unreached(msg("{why}; start `soak stand-in` there, or correct stand_in", why=why))


async def _greet(
    stream: trio.SocketStream, lines: Lines, where: str, key: bytes
) -> Mapping[str, Any]:
    said = heard(await lines.next())
    if "refused" in said:
        raise Unreached(_refusal(said, where))
    version = said.get("soak_stand_in")
    challenge = said.get("challenge")
    if not isinstance(version, int) or not isinstance(challenge, str):
        raise Unfit(msg("no stand-in"))
    if version != VERSION:
        raise Unreached(_other_version(where, version))
    own = nonce()
    mine = proof(key, "bench", challenge, own)
    await stream.send_all(line(soak_bench=VERSION, nonce=own, proof=mine))
    said = heard(await lines.next())
    if "refused" in said:
        raise Unreached(_refusal(said, where))
    if not proved(said.get("proof"), key, "stand-in", theirs=own, own=challenge):
        raise Unreached(
            msg("what answers at {where} does not know the key; do not trust it", where=where)
        )
    identity = said.get("identity")
    return identity if isinstance(identity, dict) else {}


def _refusal(said: Mapping[str, Any], where: str) -> str:
    if said["refused"] == "version":
        return _other_version(where, said.get("soak_stand_in"))
    if said["refused"] == "key":
        return f"the stand-in at {where} has another key; copy its key file to key_file"
    return f"the stand-in at {where} serves other benches and takes no more; end one of them"


def _other_version(where: str, theirs: object) -> str:
    return (
        f"the stand-in at {where} speaks version {theirs} of the protocol and this bench version "
        f"{VERSION}; install the same soak on both"
    )


def _plain(fault: OSError) -> str:
    inner = fault.__cause__ or fault.__context__
    if isinstance(inner, BaseExceptionGroup):
        inner = inner.exceptions[0]
    known = inner if isinstance(inner, OSError) else fault
    if known.errno and known.errno > 0:
        return os.strerror(known.errno)
    return known.strerror or str(known) or type(known).__name__
