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
from soak.words import (
    Message,
    Output,
    Percent,
    begin,
    counted,
    indented,
    msg,
    paragraph,
    sentence,
)

NO_FORECAST = msg("Bounds on what such a test shows; no forecast of what a buyer will see.")
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
    def words(self) -> Message:
        """The confidence, and of how many sides."""
        sides = msg("two sides together") if self.two_sided else msg("one side: how often at most")
        return msg("{level} confidence ({sides})", level=Percent(self.confidence), sides=sides)

    def needed(self, one: Callable[[int, float], Any]) -> list[Any]:
        """Return what is needed with 0, 1, 2, … allowed failures."""
        statistics.checked_confidence(self.confidence)
        most = MAY_FAIL if self.may_fail is None else self.may_fail
        if most < 0:
            raise ValueError(msg("{count} allowed failures is impossible", count=most))
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
    def seen(self) -> Message:
        """The faults in words."""
        return counted(self.faults, "{count} fault", "{count} faults", none=msg("no fault"))


def starts(
    made: Starts, show: float | None, asked: Asked, other: Starts = Starts(), *, as_json: bool
) -> Output:
    """Answer what so many starts show, or how many starts show a share.

    Raises
    ------
    UsageError
        If neither or both are asked, or a figure is impossible.
    """
    one_of(
        msg("--good, how many starts worked"),
        made.good,
        msg("--show, the share to be shown"),
        show,
    )
    with possible():
        if show is not None:
            _nothing_counted(bool(made.failed), other != Starts())
            return _starts_to_show(show, asked, as_json=as_json)
        asked.refuse_allowing()
        if other != Starts():
            return _shares_compared(made, other, asked, as_json=as_json)
        return _starts_made(made, asked, as_json=as_json)


def _starts_to_show(share: float, asked: Asked, *, as_json: bool) -> Output:
    needed = asked.needed(lambda bad, level: statistics.trials_needed(share, bad, level))
    data = {"show": share, **_told(asked), "starts_needed": needed}
    lines = [
        msg(
            "To show that fewer than {share} of such starts fail, at {confidence}:",
            share=share_words(share),
            confidence=asked.words,
        ),
        *(indented(_may_fail(number, bad)) for bad, number in enumerate(needed)),
        msg("Fix how many may fail before the first start; it is not chosen afterwards."),
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _may_fail(number: int, bad: int) -> Message:
    if not bad:
        return msg("{starts} starts, of which none may fail", starts=number)
    return msg("{starts} starts, of which at most {bad} may fail", starts=number, bad=bad)


def _starts_made(made: Starts, asked: Asked, *, as_json: bool) -> Output:
    low, high = statistics.clopper_pearson(
        made.failed, made.tried, asked.confidence, asked.two_sided
    )
    data = {"starts": made.tried, "failed": made.failed, **_told(asked)}
    data |= {"bound_low": low} if asked.two_sided else {}
    data |= {"bound_high": high}
    most = msg("fewer than {share} of such starts fail", share=share_words(high))
    if asked.two_sided and low:
        most = msg(
            "at least {low} and fewer than {high} of such starts fail",
            low=share_words(low),
            high=share_words(high),
        )
    lines = [
        msg(
            "{good} of {tried} starts worked. That shows, at {confidence}: {shown}.",
            good=made.tried - made.failed,
            tried=made.tried,
            confidence=asked.words,
            shown=most,
        ),
        *_gets_through(made),
        msg("It holds for starts of one kind: cold, warm and quick ones count apart."),
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _gets_through(made: Starts) -> list[Message]:
    if made.failed:
        return []
    if made.tried == 1:
        return [msg("One start is a look, no measurement.")]
    slips = math.exp(made.tried * math.log1p(-1 / made.tried))
    return [
        msg(
            "A unit that fails one start in {tried} still gets through {tried} of them in "
            "{slips} of cases.",
            tried=made.tried,
            slips=Percent(slips),
        )
    ]


def _shares_compared(made: Starts, other: Starts, asked: Asked, *, as_json: bool) -> Output:
    if other.good is None:
        raise UsageError(msg("--other-good is missing: of the others, how many worked?"))
    compared = compare_shares(made.failed, made.tried, other.failed, other.tried)
    counts = msg(
        "{failed} of {tried} starts failed, {other_failed} of {other_tried} of the others",
        failed=made.failed,
        tried=made.tried,
        other_failed=other.failed,
        other_tried=other.tried,
    )
    data: dict[str, Any] = {"starts": made.tried, "failed": made.failed}
    data |= {"other_starts": other.tried, "other_failed": other.failed, "sides": asked.sides}
    return _compared(
        data,
        counts,
        compared.fewer,
        differ=compared.differ,
        method=compared.method,
        asked=asked,
        as_json=as_json,
    )


def hours(made: Hours, show: str, asked: Asked, other: Hours = Hours(), *, as_json: bool) -> Output:
    """Answer what so many hours show, or how many hours show a mean time between faults.

    Raises
    ------
    UsageError
        If neither or both are asked, or a figure is impossible.
    """
    one_of(
        msg("--clean, the hours watched"),
        made.watched,
        msg("--show, the mean time to be shown"),
        show,
    )
    with possible():
        if show:
            _nothing_counted(bool(made.faults), other != Hours())
            return _hours_to_show(mean_h(show), asked, as_json=as_json)
        asked.refuse_allowing()
        watched_h = read_hours(made.watched, "--clean")
        if other != Hours():
            return _rates_compared(made, watched_h, other, asked, as_json=as_json)
        return _hours_watched(made, watched_h, asked, as_json=as_json)


def _hours_to_show(wanted_h: float, asked: Asked, *, as_json: bool) -> Output:
    needed_h = asked.needed(lambda n, level: wanted_h * statistics.length_to_show(n, level))
    data = {"mean_h": wanted_h, **_told(asked), "hours_needed": needed_h}
    lines = [
        msg(
            "To show less than one bout of faults in {time} on the whole, at {confidence}:",
            time=in_hours(wanted_h),
            confidence=asked.words,
        ),
        *(
            indented(
                msg("{time} with at most {faults}", time=in_hours(length_h), faults=faults)
                if faults
                else msg("{time} with no fault", time=in_hours(length_h))
            )
            for faults, length_h in enumerate(needed_h)
        ),
        msg("Fix how many faults are allowed before the first hour."),
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _hours_watched(made: Hours, watched_h: float, asked: Asked, *, as_json: bool) -> Output:
    low_h, high_h = statistics.mtbf(
        made.faults, watched_h, asked.confidence, two_sided=asked.two_sided
    )
    data = {"hours": watched_h, "faults": made.faults, **_told(asked), "mean_bound_low_h": low_h}
    data |= {"mean_bound_high_h": high_h} if asked.two_sided else {}
    shown = msg("less than one bout of them in {time} on the whole", time=in_hours(low_h))
    if asked.two_sided and high_h is not None:
        shown = msg(
            "more than one in {most} and less than one bout of them in {time} on the whole",
            most=in_hours(high_h),
            time=in_hours(low_h),
        )
    lines = [
        msg(
            "{seen} in {time}. That shows, at {confidence}: {shown}.",
            seen=begin(made.seen),
            time=in_hours(watched_h),
            confidence=asked.words,
            shown=shown,
        ),
        BOUTS,
        msg(
            "It takes every hour to be like every other, which early hours are not; early and late "
            "are shown apart in every finding."
        ),
        NO_FORECAST,
    ]
    return answer(data, lines, as_json=as_json)


def _rates_compared(
    made: Hours, watched_h: float, other: Hours, asked: Asked, *, as_json: bool
) -> Output:
    if not other.watched:
        raise UsageError(msg("--other-clean is missing: the others' faults came in how long?"))
    other_h = read_hours(other.watched, "--other-clean")
    comparison = compare_rates(made.faults, watched_h, other.faults, other_h)
    counts = msg(
        "{seen} in {time}, {other} in {other_time} of the others",
        seen=begin(made.seen),
        time=in_hours(watched_h),
        other=other.seen,
        other_time=in_hours(other_h),
    )
    data: dict[str, Any] = {"hours": watched_h, "faults": made.faults}
    data |= {"other_hours": other_h, "other_faults": other.faults, "sides": asked.sides}
    return _compared(
        data,
        counts,
        comparison.fewer,
        differ=comparison.differ,
        method=comparison.method,
        asked=asked,
        as_json=as_json,
    )


def _compared(
    data: dict[str, Any],
    counts: Message,
    fewer: float,
    differ: float,
    method: Message,
    asked: Asked,
    as_json: bool,
) -> Output:
    chance = differ if asked.two_sided else fewer
    data |= {"chance": chance, "method": method}
    by_luck = Percent(chance, 2)
    if asked.two_sided:
        luck = msg(
            "If both are alike, such a difference, whichever way, would be luck in {chance} of "
            "cases.",
            chance=by_luck,
        )
        sides = msg("Two sides: either may be the better.")
    else:
        luck = msg(
            "If both are alike, so few in the first would be luck in {chance} of cases.",
            chance=by_luck,
        )
        sides = msg(
            "One side: that the first is the better was said before; else ask with --sides two."
        )
    lines = [paragraph(sentence(counts), luck), sides, sentence(method)]
    return answer(data, lines, as_json=as_json)


def _nothing_counted(faults: bool, others: bool) -> None:
    """Refuse a count beside what is to be shown: nothing was counted yet."""
    if faults or others:
        raise UsageError(
            msg("--show asks before anything is counted: give --may-fail with it alone")
        )


def _told(asked: Asked) -> dict[str, Any]:
    return {"confidence": asked.confidence, "sides": asked.sides}
