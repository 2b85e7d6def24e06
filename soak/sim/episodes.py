"""Chance faults in time whose frequency depends on heat."""

from collections.abc import Callable, Iterator
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import AfterValidator, BeforeValidator, Field

from soak.allowed import Takes
from soak.derive.spans import merged
from soak.errors import Mistake
from soak.mistakes import fit
from soak.settings import Seconds, Settings
from soak.words import Number, msg


def _rising(value: tuple[float, float]) -> tuple[float, float]:
    if value[0] > value[1]:
        raise ValueError(f"from {value[0]:g} down to {value[1]:g}; write the lower one first")
    return value


_Pair = BeforeValidator(lambda value: tuple(value) if isinstance(value, list) else value)
Between = Annotated[
    tuple[Seconds, Seconds],
    _Pair,
    AfterValidator(_rising),
    Takes(msg("two durations"), example='["40 min", "1 h"]'),
]
"""A range of durations or times, `["40 min", "1 h"]`; the value is drawn evenly from it."""


class When(Settings):
    """Chance faults in time, depending on the heat at one spot.

    Attributes
    ----------
    per_hour : float
        Faults in one hour at full readiness.
    spot : str
        Spot whose heat counts; empty: heat does not matter.
    above_degc : float
        Up to this heat there is no fault, degC.
    full_k : float
        At so many K above it faults come as often as `per_hour` says; in between in
        proportion.
    lasts_s : (float, float)
        Shortest and longest duration in s, evenly in the logarithm.
    bout_of : float
        Faults in one bout on the mean, geometrically spread; `per_hour` is then that of bouts.
    apart_s : float
        From the end of one fault of a bout to the next on the mean, exponentially spread, s.
    """

    per_hour: float = Field(default=0.0, ge=0, le=60)
    spot: str = ""
    above_degc: float = 0.0
    full_k: float = Field(default=4.0, gt=0)
    lasts_s: Between = (0.5, 8.0)
    bout_of: float = Field(default=1.0, ge=1, le=100)
    apart_s: Seconds = Field(default=30.0, gt=0)

    @fit
    def _lasts_some_time(self) -> Iterator[Mistake]:
        if self.lasts_s[0] <= 0:
            yield Mistake(
                "",
                msg(
                    "lasts_s begins at {lasts_s}; a fault lasts longer than 0",
                    lasts_s=Number(self.lasts_s[0], "g"),
                ),
            )


HeatAt = Callable[[str, NDArray[np.float64]], NDArray[np.float64]]
"""Temperature in degC at a spot at each of the times."""


def readiness(when: When, heat_at: HeatAt, t_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how ready the fault is at each of the times: 0 (never) to 1 (`per_hour`)."""
    if not when.spot:
        return np.ones(len(t_s))
    above_k = heat_at(when.spot, t_s) - when.above_degc
    return np.clip(above_k / when.full_k, 0.0, 1.0)


def episodes(
    when: When, generator: np.random.Generator, from_s: float, until_s: float, heat_at: HeatAt
) -> list[tuple[float, float]]:
    """Draw the spans in which the fault is there, in order of time.

    Candidates come as a Poisson process at the full rate and are kept with the probability that
    the heat at their time gives.

    References
    ----------
    P. A. W. Lewis and G. S. Shedler, Simulation of nonhomogeneous Poisson processes by thinning,
    Naval Research Logistics Quarterly 26 (1979) 403-413.
    """
    if when.per_hour == 0:
        return []
    count = int(generator.poisson(when.per_hour * (until_s - from_s) / 3600.0))
    begins_s = np.sort(generator.uniform(from_s, until_s, count))
    luck = generator.uniform(size=count)
    low, high = np.log(when.lasts_s)
    lasts_s = np.exp(generator.uniform(low, high, count))
    kept = luck < readiness(when, heat_at, begins_s)
    spans = [
        (float(begin), float(begin + lasts))
        for begin, lasts in zip(begins_s[kept], lasts_s[kept], strict=True)
    ]
    if when.bout_of == 1:
        return spans
    further = [span for first in spans for span in _bout(when, generator, first, until_s)]
    return merged([*spans, *further])


def _bout(
    when: When, generator: np.random.Generator, first: tuple[float, float], until_s: float
) -> Iterator[tuple[float, float]]:
    """Draw the faults that follow the first of a bout, a geometric number of them."""
    low, high = np.log(when.lasts_s)
    ended_s = first[1]
    for _ in range(int(generator.geometric(1 / when.bout_of)) - 1):
        begins_s = ended_s + float(generator.exponential(when.apart_s))
        ended_s = begins_s + float(np.exp(generator.uniform(low, high)))
        if begins_s >= until_s:
            return
        yield begins_s, ended_s
