"""What a stick is seen to be, from what single transfers said; no device, no clock.

`seen`: data crosses. `stalled`: a transfer takes longer than it may, or hangs. `gone`: the system
says so. `blind`: the bench could not see, as when reads may come from a cache and prove nothing.
"""

import errno

from soak.marks import StickSaid, state_of
from soak.records import Json, State
from soak.roles import Transfer
from soak.states import BLIND, GONE, SEEN, STALLED
from soak.words import NOTHING_SAID, Message, Number, joined, msg

LEFT = frozenset({errno.ENODEV, errno.ENXIO, errno.ENOENT, errno.ENOTCONN, errno.ESHUTDOWN})
"""What the system says of a stick that was pulled. EIO may be that (one time in ten, tried by
unplugging in the middle of a transfer), or a place that cannot be read."""

NO_WRITING = frozenset({errno.EROFS, errno.ENOSPC, errno.EDQUOT, errno.EACCES, errno.EPERM})
"""What it says where the file system takes no more data."""

BULK_CEILING_BYTES_PER_S = {
    12: 1_216_000,
    480: 53_248_000,
    5000: 500e6,
    10000: 1212.2e6,
    20000: 2424.3e6,
}
"""What a USB link can carry at most, by its speed in Mb/s. Bulk transfers up to high speed (USB
2.0, section 5.8.4: 19 packets of 64 B in 1 ms, 13 of 512 B in 125 us), above that the line after
its coding (8b/10b, 128b/132b). A faster read did not come over the link."""


_NOTHING = StickSaid()


class StickStates:
    """Turns what transfers say into states.

    Parameters
    ----------
    source : str
        Name of the stick.
    """

    def __init__(self, source: str) -> None:
        self._source = source
        self.state = ""
        self._before = ""
        self._well_s: float | None = None

    def well(self, t_s: float) -> list[State]:
        """Take a transfer that went well and ended at `t_s`: bench and stick work again."""
        self._well_s = t_s
        before = self._before
        self._before = ""
        return self._become(t_s, before) if before else []

    def stalled(self, t_s: float) -> list[State]:
        """Take that a transfer has not ended yet; the next that goes well ends it.

        Nothing is said before the stick was ever seen, nor of one that is gone or unseen anyway.
        """
        if self.state != SEEN:
            return []
        self._before = SEEN
        return self._become(t_s, STALLED)

    def read(self, t_s: float, came: Transfer, length: int, identity: Json) -> list[State]:
        """Take a read of `length` bytes that went well: seen if it is evidence, else blind."""
        why = why_no_evidence(came, length, identity)
        said = self._become(t_s, BLIND if why else SEEN, StickSaid(why=why))
        self._well_s = t_s
        return said

    def gone(self, t_s: float, number: int) -> list[State]:
        """Take a failure after which the stick does not answer."""
        self._before = ""
        return self._become(t_s, GONE, StickSaid(errno=number, why=in_words(number)))

    def looked(self, t_s: float) -> None:
        """Take that it was still gone at `t_s`."""
        self._well_s = t_s

    def fault(self, t_s: float, why: Message) -> list[State]:
        """Take a failure of the bench itself; the next transfer that goes well ends it."""
        self._before = SEEN if self.state in (SEEN, STALLED) else self._before
        return self.blind(t_s, why)

    def blind(self, t_s: float, why: Message) -> list[State]:
        """Take that there is nothing to see until a read says otherwise."""
        return self._become(t_s, BLIND, StickSaid(why=why))

    def _become(self, t_s: float, state: str, said: StickSaid = _NOTHING) -> list[State]:
        if state == self.state:
            return []
        known_s = t_s if self._well_s is None or not self.state else self._well_s
        self.state = state
        within_s = round(max(0.0, t_s - known_s), 6)
        return [state_of(t_s, self._source, state, said, within_s=within_s)]


def why_no_evidence(came: Transfer, length: int, identity: Json) -> Message:
    """Say why a read proves nothing; empty if it is evidence."""
    if came.path == "maybe cached":
        known = identity.get("why_cached", "")
        return joined(": ", [msg("reads may come from a cache"), str(known)])
    ceiling = BULK_CEILING_BYTES_PER_S.get(int(identity.get("link_mbps", 0)))
    if ceiling is not None and length > ceiling * came.took_s:
        return msg(
            "reads are faster than {ceiling} MB/s, which the USB link cannot carry",
            ceiling=Number(ceiling / 1e6, ".1f"),
        )
    return NOTHING_SAID


def in_words(number: int) -> Message:
    """Say what an error number means for a stick."""
    if number in LEFT and number not in _WORDS:
        return msg("it is not there")
    return _WORDS.get(number) or msg("error {number}", number=number)


_WORDS = {
    errno.ETIMEDOUT: msg("it does not answer"),
    errno.EIO: msg("input or output error"),
    errno.EROFS: msg("it has become read-only"),
    errno.EPERM: msg("it has become read-only"),
    errno.EACCES: msg("this user may not write it any more"),
    errno.ENOSPC: msg("it is full"),
    errno.EDQUOT: msg("it is full"),
}
"""A whole disk that is protected from writing says EPERM (Linux, blkdev_write_iter)."""
