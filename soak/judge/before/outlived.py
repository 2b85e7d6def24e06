"""Whether what the jobs before saw of a unit is outlived, or the quiet since can be luck.

The rule, for each kind of failure apart:

* all failures of the jobs before are held together with all time watched in them, since the kind
  was last outlived; quiet of an earlier job counts as time before, for the unit was opened since;
* it is outlived where so quiet a time since has a chance of `LUCK` at most were nothing mended
  (losses: exact conditional test of two Poisson rates, those before in as few bouts as they may
  be, in live time; starts: Fisher's exact test), or, for a
  demand that is met or not as a whole, where the same one was met for as long (`demands`);
* a repair recorded after the failures that names the function that failed stands in for that,
  once: where the function failed again after such a repair, its word alone no longer does. What
  an intake saw was looked for to measure the repair by it, so there no word stands in.
"""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.jobs_before import (
    Demand,
    FailureKind,
    Failures,
    JobBefore,
    Saw,
    SoakBefore,
    jobs_before,
    repairs_now,
)
from soak.errors import JournalError
from soak.frozen.unit import RepairStated
from soak.judge.before.demands import same
from soak.judge.before.pool import OpenDemand, Pool, Way, Word, chance_of, met_again
from soak.judge.before.saw import Measures, functions_of, saw
from soak.records import Header
from soak.statistics.compare import (
    LUCK,
    starts_needed,
    time_needed,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How one way of failing stands.

    Attributes
    ----------
    before, since : Failures
        What was seen in the jobs before, and in this one.
    chance : float or None
        Of so few since, were nothing mended; None where nothing was watched before or since.
    needed : float or None
        So much more time in s, or so many starts, without one bring the chance down to `LUCK`.
    repair : RepairStated or None
        The newest repair after the failures that names the function.
    word_counts : bool
        Whether that repair stands in for quiet.
    looked_for : bool
        Whether an intake saw it.
    """

    before: Failures
    since: Failures
    chance: float | None
    needed: float | None
    repair: RepairStated | None
    word_counts: bool
    looked_for: bool

    @property
    def quiet_enough(self) -> bool:
        """Whether so quiet a time is hardly luck."""
        return self.chance is not None and self.chance <= LUCK

    @property
    def outlived(self) -> bool:
        """Whether it keeps the unit from being ready no longer."""
        return self.quiet_enough or self.word_counts


@dataclass(frozen=True, slots=True, kw_only=True)
class Unmet:
    """How a demand stands that was not met before.

    Attributes
    ----------
    times : int
        In so many soaks.
    met_since : bool
        Whether it was met since, for as long and no looser.
    repair, word_counts, looked_for
        As of `Standing`.
    """

    demand: Demand
    times: int
    met_since: bool
    repair: RepairStated | None
    word_counts: bool
    looked_for: bool

    @property
    def outlived(self) -> bool:
        """Whether it keeps the unit from being ready no longer."""
        return self.met_since or self.word_counts


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """All that the jobs before left behind.

    Attributes
    ----------
    jobs : tuple of JobBefore
        In order of time.
    failures : tuple of Standing
    unmet : tuple of Unmet
    unread : tuple of SoakBefore
        Failed soaks whose journals say nothing any more: nothing can show them outlived.
    """

    jobs: tuple[JobBefore, ...] = ()
    failures: tuple[Standing, ...] = ()
    unmet: tuple[Unmet, ...] = ()
    unread: tuple[SoakBefore, ...] = ()


def outlived(header: Header, soaks: Sequence[Course] = ()) -> Before:
    """Return how everything stands that the jobs before saw.

    Parameters
    ----------
    header : Header
        Of the newest soak: its references hold what the jobs before saw.
    soaks : sequence of Course
        The soaks of its job; none: as it stands before the first of them.

    Raises
    ------
    JournalError
        If the header cannot be read by this version.
    """
    jobs = jobs_before(header)
    if not jobs:
        return Before()
    earlier = _in_order(jobs)
    repairs = [*(repair for job in jobs for repair in job.repairs), *repairs_now(header)]
    pools = _pools(header, earlier, repairs)
    unmet = _open_demands(earlier, repairs)
    now = _now(soaks, pools, whole=bool(unmet))
    return Before(
        jobs=jobs,
        failures=tuple(_standing(pool, now) for pool in pools),
        unmet=tuple(_unmet(demand, now) for demand in unmet),
        unread=tuple(soak for _, soak in earlier if soak.unread and "failed" in soak.grade),
    )


def of_job(soaks: Sequence[Course]) -> Before:
    """Return how everything stands after the soaks of a job, in order of time.

    What is carried by hand is recorded beside the soaks, and its header keeps no jobs before.
    """
    kept = [course.header for course in soaks if course.header.references.jobs_before]
    return outlived(kept[-1], soaks) if kept else Before()


def _in_order(jobs: Sequence[JobBefore]) -> list[tuple[str, SoakBefore]]:
    all_ = [(job.job_id, soak) for job in jobs for soak in job.soaks]
    return sorted(all_, key=lambda one: one[1].at)


def _played(
    earlier: Sequence[tuple[str, SoakBefore]], repairs: Sequence[RepairStated]
) -> Iterator[tuple[str, SoakBefore | RepairStated]]:
    """Yield soaks and repairs of all jobs in the order in which the ledger took them in."""
    story: list[tuple[str, SoakBefore | RepairStated]] = [*earlier]
    story += [(repair.job_id, repair) for repair in repairs]
    yield from sorted(story, key=lambda one: one[1].at)


def _pools(
    header: Header, earlier: Sequence[tuple[str, SoakBefore]], repairs: Sequence[RepairStated]
) -> list[Pool]:
    """Return what is left of each way in which the unit failed before."""
    functions: dict[Way, set[str]] = {}
    failed: dict[Way, bool] = {}
    for _, soak in earlier:
        for failure in soak.failures:
            way = (failure.kind, failure.where)
            own = functions.setdefault(way, set(functions_of(header, *way)))
            own.update(failure.functions)
            failed[way] = failed.get(way, False) or failure.events > 0
    pools = [Pool(way, Word(frozenset(functions[way]))) for way, ever in failed.items() if ever]
    for pool in pools:
        for job_id, event in _played(earlier, repairs):
            if isinstance(event, RepairStated):
                pool.word.says(event, pool.events + pool.own_events)
                continue
            for seen in event.failures:
                if (seen.kind, seen.where) == pool.way:
                    pool.take(job_id, seen, intake=event.intake)
        pool.close()
    return [pool for pool in pools if pool.events]


def _open_demands(
    earlier: Sequence[tuple[str, SoakBefore]], repairs: Sequence[RepairStated]
) -> list[OpenDemand]:
    """Return the demands that were not met before and not met again since."""
    opened: list[OpenDemand] = []
    for _, soak in earlier:
        for demand in soak.demands:
            if not demand.met and not any(same(demand, other.demand) for other in opened):
                opened.append(OpenDemand(demand, Word(frozenset(demand.functions))))
    for own in opened:
        for job_id, event in _played(earlier, repairs):
            if isinstance(event, RepairStated):
                own.word.says(event, len(own.unmet))
            else:
                own.take(job_id, event.demands, intake=event.intake)
        own.close()
    return [own for own in opened if own.unmet]


def _now(soaks: Sequence[Course], pools: Sequence[Pool], *, whole: bool) -> list[Saw]:
    """Return what the soaks of this job saw, by the strictest measures ever used on the unit."""
    if not pools and not whole:
        return []
    by = Measures()
    for pool in pools:
        starts = pool.way[0] is FailureKind.STARTS
        by = by.stricter(Measures(None, pool.by_s) if starts else Measures(pool.by_s))
    seen = []
    for course in soaks:
        with suppress(JournalError):  # its own demands say so; its quiet is worth nothing
            seen.append(saw(course, by, whole=whole))
    return seen


def _standing(pool: Pool, now: Sequence[Saw]) -> Standing:
    kind, where = pool.way
    here = [
        failure
        for seen in now
        for failure in seen.failures
        if (failure.kind, failure.where) == pool.way
    ]
    again = sum(failures.events for failures in here)
    over = sum(soak.over for soak in here)
    chance = chance_of(pool.way, pool.bouts, pool.live, again=again, since=over)
    if again:
        pool.word.fails()
    return Standing(
        before=Failures(
            kind=kind,
            where=where,
            events=pool.events,
            over=pool.over,
            by_s=pool.by_s,
            functions=tuple(sorted(pool.word.functions)),
            bouts=pool.bouts,
            live=pool.live,
        ),
        since=Failures(kind=kind, where=where, events=again, over=over),
        chance=chance,
        needed=_needed(pool, again, over),
        repair=pool.word.repair,
        word_counts=_counts(pool.word, looked_for=pool.looked_for),
        looked_for=pool.looked_for,
    )


def _unmet(own: OpenDemand, now: Sequence[Saw]) -> Unmet:
    made = [demand for seen in now for demand in seen.demands]
    again = any(not demand.met and same(demand, own.demand) for demand in made)
    if again:
        own.word.fails()
    return Unmet(
        demand=max(own.unmet, key=lambda one: one.lasted_s),
        times=len(own.unmet),
        met_since=not again and met_again(own.unmet, (demand for demand in made if demand.met)),
        repair=own.word.repair,
        word_counts=_counts(own.word, looked_for=own.looked_for),
        looked_for=own.looked_for,
    )


def _counts(word: Word, *, looked_for: bool) -> bool:
    return word.repair is not None and not word.broken and not looked_for


def _needed(pool: Pool, again: int, over: float) -> float | None:
    if pool.live <= 0:
        return None
    if pool.way[0] is FailureKind.STARTS:
        enough: float = starts_needed(pool.bouts, round(pool.live), again, LUCK)
    else:
        enough = time_needed(pool.bouts, pool.live, again, LUCK)
    return max(0.0, enough - over)
