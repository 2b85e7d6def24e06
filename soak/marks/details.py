"""What states and kept files say beside their names, typed like what marks say."""

from collections.abc import Sequence
from dataclasses import replace

from soak.errors import JournalError, told_of
from soak.frozen.shape import as_json, kept, maybe, read_as
from soak.records import KeptFile, State
from soak.words import NOTHING_SAID, Message, msg
from soak.words_json import said_again


@kept
class StateSaid:
    """What a state says beside its name; each key only where it is known.

    These are read; what is kept for people alone says a kind of its own, such as `LinkSaid`.

    Attributes
    ----------
    why : Message
        Of blindness or absence: what is the matter, in plain words.
    late : bool
        Of blindness: the driver only came late, and read on from what it had opened.
    speed_mbps : float or None
        Speed of a link, Mb/s.
    enumerations, read_bytes, written_bytes, read_here_bytes : int or None
        Counts of a stick that is stood in for, and what was read of it since it was taken in.
    unread, last : int, str
        Lines that could not be read so far, and the last of them.
    period_s : float
        Of a stream of pictures: from one to the next, s.
    pictures, lost, repeated, damaged : int
        Of a stream: counts so far.
    evidence_dropped : int
        How many evidence pictures were not kept since the state before.
    """

    why: Message = maybe(default=NOTHING_SAID)
    late: bool = maybe(default=False)
    speed_mbps: float | None = maybe(default=None)
    enumerations: int | None = maybe(default=None)
    read_bytes: int | None = maybe(default=None)
    written_bytes: int | None = maybe(default=None)
    read_here_bytes: int | None = maybe(default=None)
    unread: int = maybe(default=0)
    last: str = maybe(default="")
    period_s: float = maybe(default=0.0)
    pictures: int = maybe(default=0)
    lost: int = maybe(default=0)
    repeated: int = maybe(default=0)
    damaged: int = maybe(default=0)
    evidence_dropped: int = maybe(default=0)


@kept
class LinkSaid(StateSaid):
    """What is said of a link beside that, for people.

    Attributes
    ----------
    at, device, text : str
        Where on the host, which device by its best name, and what it calls itself.
    duplex : str
        Of a network link, as the kernel calls it.
    missed : int or None
        How often the link went and came between two looks.
    port : sequence of str or str
        The hub's words for its port, or why it gives none; `port_speed_mbps`: its speed, Mb/s.
    """

    at: str = maybe(default="")
    device: str = maybe(default="")
    text: str = maybe(default="")
    duplex: str = maybe(default="")
    missed: int | None = maybe(default=None)
    port: Sequence[str] | str = maybe(default=())
    port_speed_mbps: float | None = maybe(default=None)


@kept
class StickSaid(StateSaid):
    """What is said of a stick beside that, for people: `errno`, or who stands in for one."""

    errno: int | None = maybe(default=None)
    stood_in: bool = maybe(default=False)
    udc: str = maybe(default="")
    resets: int | None = maybe(default=None)


@kept
class PictureSaid(StateSaid):
    """What is said of a picture beside that, for people.

    Attributes
    ----------
    size : sequence of int
        Width and height, px; of the packet in memory, `packet_bytes`.
    luma, noise_luma : float or None
        Mean luma, and the noise in it, of 255.
    amount : float
        How bad a picture was, as its detector counts.
    looks_like : str
        What a picture that is not the unit's looks like.
    """

    size: Sequence[int] = maybe(default=())
    luma: float | None = maybe(default=None)
    noise_luma: float | None = maybe(default=None)
    packet_bytes: int | None = maybe(default=None)
    amount: float = maybe(default=0.0)
    looks_like: str = maybe(default="")


@kept
class FileShown:
    """What a kept file shows.

    Attributes
    ----------
    shows : str
        Of a picture of the capture when it was taken: `first`, `before`, `during`, `after`;
        `photograph` of one that a person made.
    state : str
        What the picture was seen to be then.
    """

    shows: str = maybe(default="")
    state: str = maybe(default="")


def said_by(state: State) -> StateSaid:
    """Return what a state says beside its name.

    Raises
    ------
    JournalError
        If a value is not of its kind.
    """
    try:
        detail = state.detail
        return read_as(StateSaid, said_again(detail, ["why"]) if "why" in detail else detail)
    except ValueError as fault:
        where = msg("the state {state} of {source}", state=repr(state.state), source=state.source)
        raise JournalError(
            msg("{where} cannot be read: {why}", where=where, why=told_of(fault))
        ) from None


def shown_by(file: KeptFile) -> FileShown:
    """Return what a kept file shows.

    Raises
    ------
    JournalError
        If a value is not of its kind.
    """
    try:
        return read_as(FileShown, file.detail)
    except ValueError as fault:
        raise JournalError(
            msg("the kept file {name} cannot be read: {why}", name=file.name, why=told_of(fault))
        ) from None


def state_of(
    t_s: float, source: str, state: str, said: StateSaid, *, within_s: float = 0.0
) -> State:
    """Return a state that says more than its name; see `records.State`."""
    return State(t_s, source, state, within_s=within_s, detail=as_json(said))


def also_said(state: State, more: StateSaid) -> State:
    """Return a state that says more beside what it says."""
    return replace(state, detail={**state.detail, **as_json(more)})
