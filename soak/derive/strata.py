"""Starts in groups of one kind, and whether one share of failed starts may be stated of each.

A plan that counts successes takes every trial to be like every other (IEC 61123). So cold, warm and
quick starts are counted apart, and where failures come in bunches or change from early to late no
single share is stated.
"""

import statistics
import statistics as plain
from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.said import starts_called
from soak.derive.starting.starts import Start
from soak.records import Json
from soak.statistics.bounds import share_at_most
from soak.statistics.compare import UNUSUAL_Z
from soak.statistics.trend import Halves, few_runs_chance, halves, mann_kendall, theil_sen
from soak.words import Amount, Message, Percent, joined, msg, paragraph, sentence

QUICK_OFF_S = 5.0
"""A shorter off leaves capacitors charged: a start of its own kind. Our own choice."""

NOT_ALIKE = 0.05
"""Failures spread so unevenly by luck once in twenty; shared by two tests. Common practice."""

SLOWER_AT, SLOWER_BY = 0.01, 0.1
"""Starts grow slower if that is luck once in a hundred and makes a tenth. Our own choice."""

_FEWEST_TIMES = 8
"""From fewer times to picture no trend is told. Our own choice."""


@dataclass(frozen=True, slots=True)
class Stratum:
    """The starts of one kind, over all soaks in order of time.

    Attributes
    ----------
    kind : str
        `cold`, `warm` or `quick`.
    starts, failed : int
        Counts.
    halves : Halves
        Early half against late half.
    uneven : float
        The smaller chance of the two tests, both counted (Bonferroni); small: not alike.
    bound_high : float or None
        Upper bound of the failed share; None if the starts are not alike.
    slower_s : float
        How much slower they became from first to last, s; 0 if that is no more than luck.
    outliers : sequence of Json
        Starts whose time to picture stands out.
    trend : Json or None
        Trend of the times to picture.
    """

    kind: str
    starts: int
    failed: int
    halves: Halves
    uneven: float
    bound_high: float | None
    slower_s: float
    outliers: Sequence[Json] = ()
    trend: Json | None = None

    @property
    def alike(self) -> bool:
        """Whether one share may be stated."""
        return self.bound_high is not None

    def as_json(self) -> Json:
        """Return the figures as a finding's detail."""
        parts = self.halves
        return {
            "kind": self.kind,
            "starts": self.starts,
            "failed": self.failed,
            "early": {"starts": parts.early, "failed": parts.early_failed},
            "late": {"starts": parts.late, "failed": parts.late_failed},
            "uneven": round(self.uneven, 6),
            "bound_high": self.bound_high,
            "slower_s": round(self.slower_s, 3),
            "outliers": list(self.outliers),
            "trend": self.trend,
        }


def kind_of(start: Start) -> str:
    """Return the kind a start is counted among."""
    quick = start.off_s is not None and start.off_s < QUICK_OFF_S
    return "quick" if quick and start.kind == "warm" else start.kind


def strata(tried: Sequence[tuple[Start, bool]], confidence: float) -> list[Stratum]:
    """Group starts by kind.

    Parameters
    ----------
    tried : sequence of (Start, bool)
        Each counted start in order of time, and whether it failed.
    confidence : float
        Of the bound.
    """
    kinds = dict.fromkeys(kind_of(start) for start, _ in tried)
    return [
        _stratum(kind, [pair for pair in tried if kind_of(pair[0]) == kind], confidence)
        for kind in kinds
    ]


def _stratum(kind: str, tried: Sequence[tuple[Start, bool]], confidence: float) -> Stratum:
    results = [failed for _, failed in tried]
    parts = halves(results)
    uneven = min(1.0, 2 * min(parts.chance, few_runs_chance(results)))
    most = share_at_most(sum(results), len(results), confidence)
    times_s = [start.took_s for start, _ in tried if start.took_s]  # 0: a break without effect
    return Stratum(
        kind=kind,
        starts=len(results),
        failed=sum(results),
        halves=parts,
        uneven=uneven,
        bound_high=most if uneven >= NOT_ALIKE else None,
        slower_s=_slower_s(times_s),
        outliers=outliers([start for start, _ in tried]),
        trend=trend_of(times_s, confidence),
    )


def _slower_s(times_s: Sequence[float]) -> float:
    """Return how much slower the last start is than the first on the median slope; 0 if by luck."""
    if len(times_s) < _FEWEST_TIMES:
        return 0.0
    trend = mann_kendall(times_s)
    if trend.s <= 0 or trend.chance > SLOWER_AT:
        return 0.0
    grown_s = theil_sen(range(len(times_s)), times_s).slope * (len(times_s) - 1)
    return grown_s if grown_s > SLOWER_BY * plain.median(times_s) else 0.0


def in_words(groups: Sequence[Stratum]) -> Message:
    """Say why one share may not be stated, and that starts grew slower."""
    return paragraph(*(words for group in groups for words in (_uneven(group), _slower(group))))


def _uneven(group: Stratum) -> Message | None:
    if group.alike:
        return None
    return msg(
        "Failed {starts} are not spread evenly (luck does this in {share} of cases), so no single "
        "share is stated of them.",
        starts=starts_called(group.kind, 2),
        share=Percent(group.uneven, 1),
    )


def _slower(group: Stratum) -> Message | None:
    if not group.slower_s:
        return None
    return msg(
        "From first to last {start} they grew {time} slower.",
        start=starts_called(group.kind, 1),
        time=Amount(group.slower_s, "s"),
    )


def halves_in_words(groups: Sequence[Stratum]) -> Message:
    """Say what one number would hide: how many worked early and late, each kind by itself."""
    if len(groups) > 1:
        return sentence(joined("; ", map(_halves_of_kind, groups)))
    return paragraph(*(sentence(_halves(group)) for group in groups if group.halves.late))


def _halves_of_kind(group: Stratum) -> Message:
    starts = starts_called(group.kind, 2)
    parts = group.halves
    if not parts.late:
        good = parts.early - parts.early_failed
        return msg("{starts}, {good} of {all}", starts=starts, good=good, all=parts.early)
    return msg("{starts}, {halves}", starts=starts, halves=_halves(group))


def _halves(group: Stratum) -> Message:
    parts = group.halves
    return msg(
        "early half {early} of {early_all}, late half {late} of {late_all}",
        early=parts.early - parts.early_failed,
        early_all=parts.early,
        late=parts.late - parts.late_failed,
        late_all=parts.late,
    )


FEWEST = 8
"""Fewer times show neither trend nor outlier. Our own choice."""

LEAST_S = 1.0
"""An outlier is also so far from the median: times to picture are read to a frame or two, and a
very even unit has no spread worth the name. Our own choice."""


def outliers(starts: Sequence[Start]) -> list[Json]:
    """Return the starts whose time stands out, with number and modified z-score.

    References
    ----------
    Modified z-score 0.6745 (x - median) / MAD, limit 3.5: Iglewicz & Hoaglin, How to Detect and
    Handle Outliers (1993); NIST/SEMATECH e-Handbook 1.3.5.17.
    """
    timed = [(start, start.took_s) for start in starts if start.took_s]  # 0: it went on
    if len(timed) < FEWEST:
        return []
    middle = statistics.median(took_s for _, took_s in timed)
    spread = statistics.median(abs(took_s - middle) for _, took_s in timed)
    outliers: list[Json] = []
    for start, took_s in timed:
        z = 0.6745 * (took_s - middle) / max(spread, 1e-3)
        if abs(z) > UNUSUAL_Z and abs(took_s - middle) >= LEAST_S:
            outliers.append({"number": start.number, "took_s": took_s, "z": round(z, 1)})
    return outliers


def trend_of(times_s: Sequence[float], confidence: float) -> Json | None:
    """Return Mann-Kendall's S and chance with Theil-Sen's slope in s a start; None if too few."""
    if len(times_s) < FEWEST:
        return None
    trend = mann_kendall(times_s)
    slope = theil_sen(range(len(times_s)), times_s, confidence)
    return {
        "s": trend.s,
        "chance": round(trend.chance, 6),
        "method": trend.method,
        "s_per_start": slope.slope,
        "bound_low": slope.bound_low,
        "bound_high": slope.bound_high,
    }
