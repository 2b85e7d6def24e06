"""What switch and guard say: power, voltage, trips, and faults of the bench."""

from soak.marks.fact import Fact, mark, maybe
from soak.words import NOTHING_SAID, Message


@mark("power")
class PowerChanged(Fact):
    """The switch answered that the power is on, or off.

    Attributes
    ----------
    within_s : float
        The power changed at most so long before, s: so late did the switch answer.
    broken_s : float or None
        How long a short break before this on was, s.
    """

    on: bool
    channel: str | None = maybe(default="")
    why: str = ""
    within_s: float = maybe(default=0.0)
    broken_s: float | None = maybe(default=None)


@mark("break")
class BreakOrdered(Fact):
    """The guard orders a short break of the power; never in a journal."""

    for_s: float
    why: str = ""


@mark("power unanswered")
class PowerUnanswered(Fact):
    """The switch was commanded and did not answer."""

    on: bool = False
    channel: str = ""
    why: Message = NOTHING_SAID


@mark("voltage")
class VoltageSet(Fact):
    """The supply was set: to what, what it says it is set to, whether back to nominal."""

    volt: float
    said_v: float | None = maybe(default=None)
    channel: str = maybe(default="")
    why: str = ""
    back: bool = maybe(default=False)


@mark("unguarded")
class Unguarded(Fact):
    """The power was on with no guard; `found_on` is None where the switch cannot say."""

    from_s: float
    by: str = ""
    found_on: bool | None = None


@mark("trip")
class Tripped(Fact):
    """The guard cut the power and latched."""

    source: str = ""
    value: float | None = maybe(default=None)
    limit: float | None = maybe(default=None)


@mark("silence")
class FellSilent(Fact):
    """The guard cut the power as a guarding probe, or the switch, fell silent."""

    source: str = ""


@mark("rearmed")
class Rearmed(Fact):
    """The guard allows power again, for the `times`-th time."""

    reason: Message = NOTHING_SAID
    times: int | None = maybe(default=None)


@mark("alarm")
class Alarm(Fact):
    """A person must look at once; `waits`: the soak goes on once it is well."""

    why: Message = NOTHING_SAID
    waits: bool = maybe(default=False)


@mark("hand needed")
class HandNeeded(Fact):
    """Something the operator must do that is no alarm."""

    why: Message = NOTHING_SAID


@mark("bench fault")
class BenchFaulted(Fact):
    """An instrument of the bench failed."""

    instrument: str = ""
    what: Message = NOTHING_SAID


@mark("bench well")
class BenchWell(Fact):
    """It works again."""

    instrument: str = ""
