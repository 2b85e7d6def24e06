"""What counted starts and watched hours show, and how many of them are needed.

Whether a bound has one side or two, and how many may fail, the person says before anything is
counted; the answer names it.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from soak.desk.forecast.evidence import (
    BOUTS,
    answer,
    in_hours,
    mean_h,
    one_of,
    possible,
    read_hours,
    share_words,
)
from soak.errors import UsageError
from soak.statistics import bounds as statistics
from soak.statistics.compare import compare_rates, compare_shares
from soak.words import msg

NO_FORECAST = "Bounds on what such a test shows; no forecast of what a buyer will see."
MAY_FAIL = 2
"""So many allowed failures are answered for if nobody asks for more. Our own choice."""

Sides: TypeAlias = Literal["one", "two"]


@dataclass(frozen=True, slots=True)
class Asked:
    """How a bound is asked for, before anything is counted.

    Attributes
    ----------
    confidence : float
        Of the bound; of the pair, if there are two.
    sides : str
        `"one"`: only how often at most. `"two"`: how often at least, too.
    may_fail : int or None
        How many may fail in what is to be shown; None: up to `MAY_FAIL`.
    """

    confidence: float = 0.95
    sides: Sides = "one"
    may_fail: int | None = None

    @property
    def two_sided(self) -> bool:
        """Whether both bounds are stated, and hold together."""
        return self.sides == "two"

    @property
    def of_one(self) -> float:
        """The confidence of the upper bound by itself."""
        return (1 + self.confidence) / 2 if self.two_sided else self.confidence

    @property
    def words(self) -> str:
        """The confidence, and of how many sides."""
        sides = "two sides together" if self.two_sided else "one side: how often at most"
        return f"{self.confidence:.0%} confidence ({sides})"

    def needed(self, one: Callable[[int, float], Any]) -> list[Any]:
        """Return what is needed with 0, 1, 2, … allowed failures."""
        statistics.checked_confidence(self.confidence)
        most = MAY_FAIL if self.may_fail is None else self.may_fail
        if most < 0:
            raise ValueError(f"{most} allowed failures is impossible")
        return [one(number, self.of_one) for number in range(most + 1)]

    def refuse_allowing(self) -> None:
        """Refuse an allowance beside a count: it is fixed before, and a count is after."""
        if self.may_fail is not None:
            raise UsageError(msg("--may-fail goes with --show: how many may fail is fixed before"))


@dataclass(frozen=True, slots=True)
class Starts:
    """Starts that were made: how many worked, how many failed."""

    good: int | None = None
    failed: int = 0

    @property
    def tried(self) -> int:
        """All of them."""
        return (self.good or 0) + self.failed


@dataclass(frozen=True, slots=True)
class Hours:
    """A time that was watched, as typed, and the faults in it."""

    watched: str = ""
    faults: int = 0

    @property
    def seen(self) -> str:
        """The faults in words."""
        if not self.faults:
            return "No fault"
        return f"{self.faults} fault{'' if self.faults == 1 else 's'}"


def starts(
    made: Starts, show: float | None, asked: Asked, other: Starts = Starts(), *, as_json: bool
) -> str:
    """Answer what so many starts show, or how many starts show a share.

    Raises
    ------
    UsageError
        If neither or both are asked, or a figure is impossible.
    """
    one_of("--good, how many starts worked", made.good, "--show, the share to be shown", show)
    with possible():
        if show is not None:
            _nothing_counted(bool(made.failed), other != Starts())
            return _starts_to_show(show, asked, as_json=as_json)
        asked.refuse_allowing()
        if other != Starts():
            return _shares_compared(made, other, asked, as_json=as_json)
        return _starts_made(made, asked, as_json=as_json)


def _starts_to_show(share: float, asked: Asked, *, as_json: bool) -> str:
    needed = asked.needed(lambda bad, level: statistics.trials_needed(share, bad, level))
    data = {"show": share, **_told(asked), "starts_needed": needed}
    lines = [
        f"To show that fewer than {share_words(share)} of such starts fail, at {asked.words}:",
        *(
            f"  {number} starts, of which {f'at most {bad}' if bad else 'none'} may fail"
            for bad, number in enumerate(needed)
        ),
        "Fix how many may fail before the first start; it is not chosen afterwards.",
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _starts_made(made: Starts, asked: Asked, *, as_json: bool) -> str:
    low, high = statistics.clopper_pearson(
        made.failed, made.tried, asked.confidence, asked.two_sided
    )
    data = {"starts": made.tried, "failed": made.failed, **_told(asked)}
    data |= {"bound_low": low} if asked.two_sided else {}
    data |= {"bound_high": high}
    least = f"at least {share_words(low)} and " if asked.two_sided and low else ""
    lines = [
        f"{made.tried - made.failed} of {made.tried} starts worked. That shows, at {asked.words}: "
        f"{least}fewer than {share_words(high)} of such starts fail.",
        *_gets_through(made),
        "It holds for starts of one kind: cold, warm and quick ones count apart.",
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _gets_through(made: Starts) -> list[str]:
    if made.failed:
        return []
    if made.tried == 1:
        return ["One start is a look, no measurement."]
    slips = math.exp(made.tried * math.log1p(-1 / made.tried))
    return [
        f"A unit that fails one start in {made.tried} still gets through {made.tried} of them in "
        f"{slips:.0%} of cases."
    ]


def _shares_compared(made: Starts, other: Starts, asked: Asked, *, as_json: bool) -> str:
    if other.good is None:
        raise UsageError(msg("--other-good is missing: of the others, how many worked?"))
    found = compare_shares(made.failed, made.tried, other.failed, other.tried)
    counts = (
        f"{made.failed} of {made.tried} starts failed, {other.failed} of {other.tried} of the "
        "others"
    )
    data: dict[str, Any] = {"starts": made.tried, "failed": made.failed}
    data |= {"other_starts": other.tried, "other_failed": other.failed, "sides": asked.sides}
    return _compared(
        data,
        counts,
        found.fewer,
        differ=found.differ,
        method=found.method,
        asked=asked,
        as_json=as_json,
    )


def hours(made: Hours, show: str, asked: Asked, other: Hours = Hours(), *, as_json: bool) -> str:
    """Answer what so many hours show, or how many hours show a mean time between faults.

    Raises
    ------
    UsageError
        If neither or both are asked, or a figure is impossible.
    """
    one_of("--clean, the hours watched", made.watched, "--show, the mean time to be shown", show)
    with possible():
        if show:
            _nothing_counted(bool(made.faults), other != Hours())
            return _hours_to_show(mean_h(show), asked, as_json=as_json)
        asked.refuse_allowing()
        watched_h = read_hours(made.watched, "--clean")
        if other != Hours():
            return _rates_compared(made, watched_h, other, asked, as_json=as_json)
        return _hours_watched(made, watched_h, asked, as_json=as_json)


def _hours_to_show(wanted_h: float, asked: Asked, *, as_json: bool) -> str:
    needed_h = asked.needed(lambda n, level: wanted_h * statistics.length_to_show(n, level))
    data = {"mean_h": wanted_h, **_told(asked), "hours_needed": needed_h}
    lines = [
        f"To show less than one bout of faults in {in_hours(wanted_h)} on the whole, at "
        f"{asked.words}:",
        *(
            f"  {in_hours(length_h)} with {'no fault' if not n else f'at most {n}'}"
            for n, length_h in enumerate(needed_h)
        ),
        "Fix how many faults are allowed before the first hour.",
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _hours_watched(made: Hours, watched_h: float, asked: Asked, *, as_json: bool) -> str:
    low_h, high_h = statistics.mtbf(
        made.faults, watched_h, asked.confidence, two_sided=asked.two_sided
    )
    data = {"hours": watched_h, "faults": made.faults, **_told(asked), "mean_bound_low_h": low_h}
    data |= {"mean_bound_high_h": high_h} if asked.two_sided else {}
    least = ""
    if asked.two_sided and high_h is not None:
        least = f"more than one in {in_hours(high_h)} and "
    lines = [
        f"{made.seen} in {in_hours(watched_h)}. That shows, at {asked.words}: {least}less than one "
        f"bout of them in {in_hours(low_h)} on the whole.",
        BOUTS,
        "It takes every hour to be like every other, which early hours are not; early and late "
        "are shown apart in every finding.",
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _rates_compared(
    made: Hours, watched_h: float, other: Hours, asked: Asked, *, as_json: bool
) -> str:
    if not other.watched:
        raise UsageError(msg("--other-clean is missing: the others' faults came in how long?"))
    other_h = read_hours(other.watched, "--other-clean")
    found = compare_rates(made.faults, watched_h, other.faults, other_h)
    counts = (
        f"{made.seen} in {in_hours(watched_h)}, {other.seen.lower()} in {in_hours(other_h)} of the "
        "others"
    )
    data: dict[str, Any] = {"hours": watched_h, "faults": made.faults}
    data |= {"other_hours": other_h, "other_faults": other.faults, "sides": asked.sides}
    return _compared(
        data,
        counts,
        found.fewer,
        differ=found.differ,
        method=found.method,
        asked=asked,
        as_json=as_json,
    )


def _compared(
    data: dict[str, Any],
    counts: str,
    fewer: float,
    differ: float,
    method: str,
    asked: Asked,
    as_json: bool,
) -> str:
    chance = differ if asked.two_sided else fewer
    data |= {"chance": chance, "method": method}
    seen = "such a difference, whichever way," if asked.two_sided else "so few in the first"
    sides = (
        "Two sides: either may be the better."
        if asked.two_sided
        else "One side: that the first is the better was said before; else ask with --sides two."
    )
    lines = [f"{counts}. If both are alike, {seen} would be luck in {chance:.2%} of cases."]
    return answer(data, [*lines, sides, f"{method}."], as_json=as_json)


def _nothing_counted(faults: bool, others: bool) -> None:
    """Refuse a count beside what is to be shown: nothing was counted yet."""
    if faults or others:
        raise UsageError(
            msg("--show asks before anything is counted: give --may-fail with it alone")
        )


def _told(asked: Asked) -> dict[str, Any]:
    return {"confidence": asked.confidence, "sides": asked.sides}
