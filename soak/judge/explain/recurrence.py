"""Units that fail more than once: how many failures a unit has had, on the mean, by each age."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from soak.judge.explain.life import NOTHING_FAILED
from soak.words import msg


@dataclass(frozen=True, slots=True)
class Recurrence:
    """The mean cumulative function.

    Attributes
    ----------
    times : tuple of float
        Ages at which something failed, in the measurement unit of the data.
    means : tuple of float
        Mean number of failures a unit by those ages.
    """

    times: tuple[float, ...]
    means: tuple[float, ...]


def mean_cumulative(
    histories: Mapping[str, tuple[Sequence[float], float]],
    entries: Mapping[str, float] = MappingProxyType({}),
) -> Recurrence:
    """Estimate how many failures a unit has had by each age.

    Parameters
    ----------
    histories : mapping of unit to (failures, end)
        Ages at failure, and up to which age the unit was followed.
    entries : mapping of unit to float
        Age after which a unit came under watch; of those not named 0.

    Raises
    ------
    ValueError
        If nothing failed, an age is no positive number, or a failure lies outside the ages its unit
        was watched.

    References
    ----------
    Nelson, "Confidence limits for recurrence data", Technometrics 37 (1995) 147-157: at each age
    the failures divided by the units still followed, summed.
    """
    for unit, (failures, end) in histories.items():
        if any(not math.isfinite(age) or age <= 0 for age in (*failures, end)):
            raise ValueError(msg("{unit}: an age is a positive number", unit=unit))
        if any(age > end for age in failures):
            raise ValueError(
                msg("{unit}: failed after the age up to which it was followed", unit=unit)
            )
        if any(age <= entries.get(unit, 0.0) for age in failures):
            raise ValueError(
                msg("{unit}: failed before the age at which it came under watch", unit=unit)
            )
    times = sorted({age for failures, _ in histories.values() for age in failures})
    if not times:
        raise ValueError(NOTHING_FAILED)
    mean = 0.0
    means = []
    for time in times:
        followed = sum(entries.get(unit, 0.0) < time <= end for unit, (_, end) in histories.items())
        mean += sum(list(ages).count(time) for ages, _ in histories.values()) / followed
        means.append(mean)
    return Recurrence(tuple(times), tuple(means))
