"""Lines from a stream, none longer than the protocol allows."""

import trio

from soak.bench.stand_in.words import LONGEST_BYTES, Unfit
from soak.words import msg


class Lines:
    """Take a stream apart into lines.

    Parameters
    ----------
    stream : trio.SocketStream
    """

    def __init__(self, stream: trio.SocketStream) -> None:
        self._stream = stream
        self._buffer = b""

    async def next(self) -> bytes:
        """Return the next line without its end.

        Raises
        ------
        Unfit
            If a line is too long.
        trio.BrokenResourceError
            If the other end left.
        """
        while b"\n" not in self._buffer:
            if len(self._buffer) > LONGEST_BYTES:
                raise Unfit(
                    msg("a line is longer than {longest_bytes} B", longest_bytes=LONGEST_BYTES)
                )
            data = await self._stream.receive_some(LONGEST_BYTES)
            if not data:
                raise trio.BrokenResourceError("the other end left")
            self._buffer += bytes(data)
        line, _, self._buffer = self._buffer.partition(b"\n")
        if len(line) > LONGEST_BYTES:
            raise Unfit(msg("a line is longer than {longest_bytes} B", longest_bytes=LONGEST_BYTES))
        return line
