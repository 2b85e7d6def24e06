"""The next chunk is made while the last one is on its way to the stick."""

import trio

from soak.measure.stick.pattern import Pattern
from soak.roles import Stick, Transfer


class MakesAhead:
    """Writes chunks of a pattern; a quick stick does not wait for the data to be made.

    Parameters
    ----------
    pattern : Pattern
        What the data is.
    """

    def __init__(self, pattern: Pattern) -> None:
        self._pattern = pattern
        self._made: tuple[tuple[int, int, int], bytes] = ((0, 0, 0), b"")

    async def write(self, stick: Stick, pass_number: int, offset: int, length: int) -> Transfer:
        """Write one chunk, and make the one that follows meanwhile."""
        asked, data = self._made
        if asked != (pass_number, offset, length):
            data = self._pattern.make(pass_number, offset, length)
        came: list[Transfer | BaseException] = []

        async def cross() -> None:
            try:
                came.append(await stick.write_at(offset, data))
            except Exception as fault:  # handed on below, not as a group of one
                came.append(fault)

        async with trio.open_nursery() as nursery:
            nursery.start_soon(cross)
            await trio.lowlevel.checkpoint()  # let it go first
            following = (pass_number, offset + length, length)
            self._made = (following, self._pattern.make(*following))
        if isinstance(came[0], BaseException):
            raise came[0]
        return came[0]
