"""Failures and demands of the jobs before, put together until they were outlived."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from soak.derive.jobs_before import Demand, FailureKind, Failures
from soak.frozen.unit import RepairStated
from soak.judge.before.demands import answers, same
from soak.statistics.compare import LUCK, chance_of_so_few, chance_of_starts

Way = tuple[FailureKind, str]
"""One way of failing: the kind, and where."""


@dataclass(slots=True)
class Word:
    """What repairs say of one way of failing.

    Attributes
    ----------
    functions : frozenset of str
        Functions that failed.
    repair : RepairStated or None
        The newest that names one of them, with no failure since.
    broken : bool
        Whether the function failed again after such a repair.
    """

    functions: frozenset[str]
    repair: RepairStated | None = None
    broken: bool = False

    def says(self, repair: RepairStated, failed: int) -> None:
        """Take a repair: of what had not `failed` before it, it says nothing."""
        if failed and repair.function in self.functions:
            self.repair = repair

    def fails(self) -> None:
        """Take a failure: a repair that came before it was none."""
        self.broken = self.broken or self.repair is not None
        self.repair = None


@dataclass(slots=True)
class Pool:
    """Failures of one way since it was last outlived, and how the job under way adds to them.

    Before they count as few bouts as they may be, since then each by itself: both is the safe side.
    """

    way: Way
    word: Word
    events: int = 0
    over: float = 0.0
    bouts: int = 0
    live: float = 0.0
    by_s: float | None = None
    looked_for: bool = False
    job: str = ""
    own_events: int = 0
    own_over: float = 0.0
    own_bouts: int = 0
    own_live: float = 0.0

    def take(self, job_id: str, seen: Failures, *, intake: bool) -> None:
        """Take what a soak of a job counted."""
        if job_id != self.job:
            self.close()
            self.job = job_id
        if seen.events:
            self.word.fails()
            self.looked_for = self.looked_for or intake
        self.own_events += seen.events
        self.own_over += seen.over
        self.own_bouts += seen.bouts_told
        self.own_live += seen.live_told
        measures = [measure for measure in (self.by_s, seen.by_s) if measure is not None]
        self.by_s = min(measures, default=None)

    def close(self) -> None:
        """End a job: its quiet outlives what came before it, or all of it is before now."""
        quiet = not self.own_events and self.events
        chance = (
            chance_of(self.way, self.bouts, self.live, again=0, since=self.own_over)
            if quiet
            else None
        )
        if chance is not None and chance <= LUCK:
            self.events = 0
            self.over = 0.0
            self.bouts = 0
            self.live = 0.0
            self.looked_for = False
            self.word = Word(self.word.functions)
        elif self.events or self.own_events:
            self.events += self.own_events
            self.over += self.own_over
            self.bouts += self.own_bouts
            self.live += self.own_live
        self.own_events = 0
        self.own_over = 0.0
        self.own_bouts = 0
        self.own_live = 0.0


@dataclass(slots=True)
class OpenDemand:
    """A demand that was not met, and how often."""

    demand: Demand
    word: Word
    looked_for: bool = False
    unmet: list[Demand] = field(default_factory=list)
    job: str = ""
    own_met: list[Demand] = field(default_factory=list)
    own_unmet: int = 0

    def take(self, job_id: str, demands: Sequence[Demand], *, intake: bool) -> None:
        """Take the demands of a soak of a job."""
        if job_id != self.job:
            self.close()
            self.job = job_id
        failed = [demand for demand in demands if not demand.met and same(demand, self.demand)]
        if failed:
            self.word.fails()
            self.looked_for = self.looked_for or intake
        self.unmet += failed
        self.own_unmet += len(failed)
        self.own_met += [demand for demand in demands if demand.met]

    def close(self) -> None:
        """End a job: where it met the demand as well as it was failed before, that is outlived."""
        if self.unmet and not self.own_unmet and met_again(self.unmet, self.own_met):
            self.unmet = []
            self.looked_for = False
            self.word = Word(self.word.functions)
        self.own_met = []
        self.own_unmet = 0


def met_again(unmet: Sequence[Demand], met: Iterable[Demand]) -> bool:
    """Tell whether each demand that was not met was met later for as long, and no looser."""
    met = list(met)
    return all(any(answers(demand, before) for demand in met) for before in unmet)


def chance_of(way: Way, seen: int, seen_in: float, again: int, since: float) -> float | None:
    """Return the chance of so few since; None where nothing was watched before, or nothing since.

    A failure that was seen in no time at all tells nothing of how often it comes.
    """
    if seen_in <= 0 or since <= 0:
        return None
    if way[0] is FailureKind.STARTS:
        return chance_of_starts(seen, round(seen_in), again, round(since))
    return chance_of_so_few(seen, seen_in, again, since)
