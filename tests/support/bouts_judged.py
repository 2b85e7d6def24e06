"""What soak makes of units that fail in bouts, and what is true of them: shares over seeds."""

from dataclasses import dataclass, field

import numpy as np
from bouts_drawn import HOUR, drawn, soak_with
from headers import kept_jobs
from made_up_soak import demand
from scipy.stats import binomtest

from soak.derive.course import course_of
from soak.derive.jobs_before import JobBefore, SoakBefore
from soak.derive.sequential import decide, follow_hours
from soak.judge.before.outlived import outlived
from soak.judge.before.saw import Measures, saw
from soak.judge.judging import judge_requirement
from soak.judge.planning import gap_of_plan, hours_plan
from soak.statistics.bounds import rate_at_most
from soak.statistics.compare import LUCK, quiet_needed
from soak.statistics.frozen import frozen

RATIO = 20.0
PAUSE_S = 1 * HOUR
NEED = demand("no dropout", "capture", 1000.0, confidence=0.95)
PLAN = hours_plan(20 * HOUR, 4 * HOUR, 0.10, 0.10)
GOOD_S, BAD_S = 20 * HOUR, 4 * HOUR
TERMS = {"of": "hours", "good": GOOD_S, "bad": BAD_S, **frozen(PLAN)}
BY_PLAN = demand(
    "hours by plan",
    "capture",
    None,
    confidence=0.95,
    params={"bad": ["black", "no signal"], "plan": {**TERMS, "gap_s": gap_of_plan(BAD_S)}},
)


@dataclass
class Share:
    """How many of how many."""

    of: int = 0
    all: int = 0

    def add(self, hit: bool) -> None:
        self.of += bool(hit)
        self.all += 1

    def __str__(self) -> str:
        if not self.all:
            return "–"
        low, high = binomtest(self.of, self.all).proportion_ci(0.95)
        return f"{self.of / self.all:.3f} ({low:.3f}-{high:.3f})"


@dataclass
class Bounds:
    """Levels of upper bounds: of soaks that print no wrong one, before and now."""

    before: Share = field(default_factory=Share)
    held: Share = field(default_factory=Share)
    printed: Share = field(default_factory=Share)
    times: list[float] = field(default_factory=list)


def bounds_of(size: float, same: bool, bouts: float, seeds: range) -> Bounds:
    """Soak units and hold the bound of the finding against their true bouts an hour."""
    found = Bounds()
    within_s = PAUSE_S / RATIO
    cycle_s = PAUSE_S + (size - 1) * within_s
    watched_s = bouts * cycle_s
    faults_per_h = size / (cycle_s / HOUR)
    for seed in seeds:
        chance = np.random.default_rng([seed, int(size), same, int(bouts)])
        times_s = drawn(chance, pause_s=PAUSE_S, within_s=within_s, mean_size=size,
                        watched_s=watched_s, same_size=same)  # fmt: skip
        finding = judge_requirement(NEED, [soak_with(times_s, watched_s, NEED)])
        high = finding.bound_high
        found.before.add(rate_at_most(len(times_s), watched_s / HOUR, 0.95) >= faults_per_h)
        found.held.add(high is None or high >= HOUR / PAUSE_S)
        found.printed.add(high is not None)
        if high is not None:
            found.times.append(high * PAUSE_S / HOUR)
    return found


@dataclass
class Gone:
    """Intakes of units that nobody repairs, each watched for as long as is asked.

    `before` and `now` say after how many the fault was called gone; `chance` is the mean chance of
    that by the quiet asked, which says the same with less noise; `asked` is in pauses.
    """

    before: Share = field(default_factory=Share)
    now: Share = field(default_factory=Share)
    chances: list[float] = field(default_factory=list)
    asked: list[float] = field(default_factory=list)

    @property
    def chance(self) -> float:
        return sum(self.chances) / self.now.all


def gone_of(size: float, same: bool, bouts: float, seeds: range) -> Gone:
    """Let intakes see units that nobody repairs, and watch each for as long as is asked."""
    found = Gone()
    within_s = PAUSE_S / RATIO
    watched_s = bouts * (PAUSE_S + (size - 1) * within_s)
    for seed in seeds:
        chance = np.random.default_rng([seed, int(size), same, int(bouts), 2])
        times_s = drawn(chance, pause_s=PAUSE_S, within_s=within_s, mean_size=size,
                        watched_s=watched_s, same_size=same)  # fmt: skip
        quiet_s = chance.exponential(PAUSE_S)
        if not times_s:
            found.before.add(False)
            found.now.add(False)
            continue
        soak = soak_with(times_s, watched_s, NEED)
        needed_s = needed_after(soak)
        found.before.add(quiet_s >= quiet_needed(len(times_s), watched_s, LUCK))
        found.now.add(quiet_s >= needed_s)
        found.asked.append(needed_s / PAUSE_S)
        found.chances.append(float(np.exp(-needed_s / PAUSE_S)))
    return found


def needed_after(soak) -> float:
    """Return the quiet in s that the next job has to show of what this soak saw."""
    seen = saw(course_of(soak), Measures(), whole=False)
    one = SoakBefore(soak_id="S1", at=1.0, intake=True, failures=seen.failures)
    job = JobBefore(job_id="J0", tag="K1", soaks=(one,))
    header = soak.with_header(references=kept_jobs([job]), job_id="J1").header
    return max(one.needed for one in outlived(header).failures)


def plan_of(size: float, same: bool, truth_s: float, ratio: float, seeds: range):
    """Follow the plan on units with one bout in `truth_s`; before: one fault in it."""
    before, now, rejected = Share(), Share(), Share()
    for seed in seeds:
        chance = np.random.default_rng([seed, int(size), same, int(truth_s), int(ratio)])
        until_s = 3 * (PLAN.longest + BAD_S)
        times_s = drawn(chance, pause_s=truth_s, within_s=truth_s / ratio, mean_size=size,
                        watched_s=until_s, same_size=same)  # fmt: skip
        decided = decide(BY_PLAN, course_of(soak_with(times_s, until_s, BY_PLAN)))
        now.add(decided.decided == "accepted")
        rejected.add(decided.decided == "rejected")
        pause_s = truth_s * size / (1 + (size - 1) / ratio)
        times_s = drawn(chance, pause_s=pause_s, within_s=pause_s / ratio, mean_size=size,
                        watched_s=until_s, same_size=same)  # fmt: skip
        before.add(follow_hours(PLAN, times_s, until_s).decided == "accepted")
    return before, now, rejected
