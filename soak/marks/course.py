"""How a soak went: its stretches, and the computer it ran on."""

from collections.abc import Mapping, Sequence

from soak.marks.fact import Fact, mark, maybe


@mark("stretch begins")
class StretchBegins(Fact):
    """A stretch begins, with what earlier sessions already have of it."""

    observed_s: float = 0.0
    count: Mapping[str, int] | int = maybe(default=0)
    skipped: Mapping[str, str] | None = maybe(default=None)
    checks: Sequence[str] = maybe(default=())


@mark("goes on")
class GoesOn(Fact):
    """Nothing else was recorded for a while and the stretch still runs."""


@mark("stretch ends")
class StretchEnds(Fact):
    """Why a stretch ended: done, skipped, not after, stopped, or by a plan, which counted `at`."""

    because: str = "done"
    observed_s: float | None = maybe(default=None)
    at: float | None = maybe(default=None)
    failures: int | None = maybe(default=None)


@mark("clock stepped")
class ClockStepped(Fact):
    """The wall clock moved against boot time."""

    by_s: float = 0.0


@mark("host slept")
class HostSlept(Fact):
    """The host was suspended."""

    for_s: float = 0.0


@mark("stood still")
class StoodStill(Fact):
    """Nothing of the program ran for a while: when, as pairs of begin and end in s."""

    for_s: float = 0.0
    spans: Sequence[Sequence[float]] = ()


@mark("stopped")
class Stopped(Fact):
    """The soak was ended early."""

    how: str = maybe(default="")
    why: str = ""
    by: str = ""


@mark("operator left")
class OperatorLeft(Fact):
    """The attended start is over; the bench runs alone."""
