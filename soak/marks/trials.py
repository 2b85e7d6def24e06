"""What was tried with the power of a unit: starts, offs, breaks, loads, presses of its button."""

from collections.abc import Sequence

from soak.marks.fact import Fact, mark, maybe

DEGREES = ("no effect", "recovers by itself", "needs a hand", "does not recover")
"""The four degrees of what a disturbance of the supply does to the unit: A to D of IEC
61000-4-11:2020, clause 9, in plain words: normal performance; loss that ends by itself; loss that
the operator ends; loss that is not recoverable."""
NO_EFFECT, BY_ITSELF, BY_HAND, NEVER = DEGREES


@mark("start")
class StartBegun(Fact):
    """The power of a start came: its kind (first, warm, cold, quick), and the off before it."""

    kind: str = "warm"
    number: int | None = maybe(default=None)
    off_s: float | None = maybe(default=None)
    dwell: str = maybe(default="")


@mark("start ended")
class StartEnded(Fact):
    """The start was watched to its end; `woken` means that only its button brought it."""

    kind: str = maybe(default="")
    number: int | None = maybe(default=None)
    seen: bool = False
    took_s: float | None = None
    woken: bool = maybe(default=False)


@mark("short break")
class ShortBreak(Fact):
    """What a short break of the supply did: one of four degrees.

    Attributes
    ----------
    off_s, asked_s : float
        How long it was, and was asked to be, s; a break of random length was not asked for.
    set_v, read_v : float or None
        What the supply was set to and gave before it, V.
    blind : sequence of str
        Sources that did not see all of it.
    """

    number: int | None = maybe(default=None)
    off_s: float = 0.0
    asked_s: float | None = maybe(default=None)
    set_v: float | None = maybe(default=None)
    read_v: float | None = maybe(default=None)
    from_s: float | None = maybe(default=None)
    degree: str = ""
    blind: Sequence[str] = maybe(default=())


@mark("working state")
class WorkingState(Fact):
    """What the unit did while its current was read."""

    working_state: str
    from_s: float


@mark("supply trial")
class SupplyTrial(Fact):
    """A start at a rated limit of the supply.

    Attributes
    ----------
    end : str
        `"lowest"` or `"highest"`.
    degree : str
        What came of it in four degrees; empty if it was not tried.
    within_s : float
        The power came at most so long before `from_s`, s.
    read_v, read_end_v, read_least_v, read_most_v : float or None
        What the supply gave, V; `read` is the number of readings between.
    lost_to : str
        The state in which the picture was lost after it had come.
    refused : str
        Why the supply could not be set.
    blind : sequence of str
        Sources that did not see all of it.
    """

    end: str = ""
    number: int | None = maybe(default=None)
    set_v: float = 0.0
    from_s: float = 0.0
    degree: str = ""
    took_s: float | None = None
    within_s: float = maybe(default=0.0)
    held_s: float = 0.0
    read_v: float | None = maybe(default=None)
    read_end_v: float | None = maybe(default=None)
    read_least_v: float | None = maybe(default=None)
    read_most_v: float | None = maybe(default=None)
    read: int = maybe(default=0)
    lost_to: str = maybe(default="")
    refused: str = maybe(default="")
    blind: Sequence[str] = maybe(default=())


@mark("off proved")
class OffProved(Fact):
    """The unit was seen to be off: by which source, so long after it was told."""

    by: str = ""
    after_s: float | None = None


@mark("off not proved")
class OffNotProved(Fact):
    """The unit was commanded off and still looks alive, or nothing saw it."""

    by: str = "capture"
    after_s: float | None = None


@mark("load")
class LoadSwitched(Fact):
    """The load at a port of the unit was switched."""

    on: bool = False


@mark("button")
class ButtonPressed(Fact):
    """The unit's own power button was pressed: to start or stop; `doubtful`: nobody knows when."""

    does: str
    held_s: float = 0.0
    from_s: float = 0.0
    why: str = ""
    doubtful: bool = False


@mark("soft stop")
class SoftStop(Fact):
    """The unit was to go off by its button; `ended` is None where nobody could see."""

    ended: bool | None = None
    by: str = ""
    after_s: float = 0.0
    limit_s: float = 0.0
    why: str = ""
