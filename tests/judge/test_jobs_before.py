"""What is left of what the jobs before saw: by order of failures, repairs and quiet alone."""

from dataclasses import replace

import pytest
from headers import header_with, kept_jobs
from made_up_soak import clean_night, demand

from soak.derive.course import course_of
from soak.derive.jobs_before import (
    Demand,
    FailureKind,
    Failures,
    JobBefore,
    SoakBefore,
    jobs_before,
    moved_before,
)
from soak.errors import JournalError
from soak.frozen.unit import RepairStated
from soak.judge.before.demands import answers, only_needed
from soak.judge.before.outlived import Before, Standing, of_job, outlived
from soak.judge.before.words import open_points, to_outlive
from soak.records import Header, to_json

H = 3600.0


def seen(events: int, hours: float, functions: tuple[str, ...] = ("video",)) -> Failures:
    return Failures(
        kind=FailureKind.PICTURE,
        events=events,
        over=hours * H,
        by_s=0.2,
        functions=functions,
        bouts=events,
        live=hours * H,
    )


def soak(at: float, *failures: Failures, **more: object) -> SoakBefore:
    return replace(SoakBefore(soak_id=f"S-{at:g}", at=at, failures=failures), **more)


def repair(at: float, function: str = "video") -> RepairStated:
    return RepairStated(id=f"R{at:g}", what="re-soldered", function=function, at=at)


def job(number: int, *told: SoakBefore | RepairStated) -> JobBefore:
    repairs = tuple(one for one in told if isinstance(one, RepairStated))
    soaks = tuple(one for one in told if isinstance(one, SoakBefore))
    return JobBefore(job_id=f"S1-{number}", tag="S1", repairs=repairs, soaks=soaks)


def header(*jobs: JobBefore, repairs: tuple[RepairStated, ...] = ()) -> Header:
    night = clean_night().demanding(demand("no dropout", "capture")).header
    own = tuple(replace(one, job_id="now") for one in repairs)
    unit = replace(night.unit, repairs=own)
    return header_with(night, job_id="now", unit=unit, references=kept_jobs(jobs))


def left(*jobs: JobBefore, repairs: tuple[RepairStated, ...] = ()) -> Standing | None:
    found = outlived(header(*jobs, repairs=repairs)).failures
    return found[0] if found else None


def test_the_first_repair_after_the_failures_stands_in_for_quiet():
    """It names what failed, and was recorded after it."""
    told = left(job(1, soak(1, seen(3, 4))), repairs=(repair(5),))
    assert told
    assert told.outlived
    assert not told.quiet_enough


def test_a_repair_before_the_failures_stands_in_for_nothing():
    """Nobody mends what fails later."""
    told = left(job(1, repair(1), soak(2, seen(3, 4))))
    assert told
    assert told.repair is None


def test_a_word_that_was_broken_counts_no_more():
    """The same function failed again after a repair that named it."""
    told = left(
        job(1, soak(1, seen(3, 4))), job(2, repair(3), soak(4, seen(1, 4))), repairs=(repair(6),)
    )
    assert told
    assert told.before.events == 4
    assert told.before.over == 8 * H
    assert not told.outlived
    assert told.repair == replace(repair(6), job_id="now")


def test_a_word_counts_again_after_the_fault_was_really_outlived():
    """What fails years later is another fault."""
    told = left(
        job(1, soak(1, seen(3, 4))),
        job(2, repair(3), soak(4, seen(1, 4))),
        job(3, soak(6, seen(0, 100))),
        job(4, soak(8, seen(2, 4))),
        repairs=(repair(9),),
    )
    assert told
    assert told.before.events == 2
    assert told.outlived


def test_quiet_that_luck_explains_outlives_nothing():
    """3 in 4 h need 6.9 h (by hand); 6 h in the job between are time before."""
    told = left(job(1, soak(1, seen(3, 4))), job(2, soak(3, seen(0, 6))))
    assert told
    assert told.before.over == 10 * H
    assert left(job(1, soak(1, seen(3, 4))), job(2, soak(3, seen(0, 6.9)))) is None


def test_quiet_adds_up_within_a_job_and_not_over_jobs():
    """The unit was opened between."""
    first = job(1, soak(1, seen(3, 4)))
    assert left(first, job(2, soak(3, seen(0, 3.5)), soak(4, seen(0, 3.5)))) is None
    told = left(first, job(2, soak(3, seen(0, 3.5))), job(3, soak(5, seen(0, 3.5))))
    assert told
    assert told.before.over == 11 * H


def test_a_quiet_job_before_the_first_failure_lowers_no_rate():
    """A fault that is new was not there before."""
    told = left(job(1, soak(1, seen(0, 100))), job(2, soak(3, seen(3, 4))))
    assert told
    assert told.before.over == 4 * H


def test_no_word_stands_in_for_quiet_after_an_intake():
    """It was looked for, so that the repair can be measured."""
    told = left(job(1, soak(1, seen(3, 4), intake=True)), repairs=(repair(5),))
    assert told
    assert not told.outlived
    assert told.needed == pytest.approx(6.857 * H, abs=10)


def test_kinds_are_outlived_apart():
    """A quiet picture says nothing of starts."""
    starts = Failures(kind=FailureKind.STARTS, events=1, over=20, functions=("start",))
    before = outlived(header(job(1, soak(1, seen(3, 4), starts)), job(2, soak(3, seen(0, 9)))))
    (told,) = before.failures
    assert told.before.kind is FailureKind.STARTS
    assert told.needed == 380
    assert "380 more starts without a failed one" in open_points(before)[0]


def test_a_failure_seen_in_no_time_can_be_held_against_no_quiet():
    """No rate is made of it; a repair may still name it."""
    before = outlived(header(job(1, soak(1, seen(1, 0)))))
    assert "No time was watched in which it came" in open_points(before)[0]


def test_a_night_since_is_counted_by_the_measures_of_before():
    """A made-up night of 4 h and a half, quiet: 13 in 5 h are outlived."""
    night = clean_night().demanding(demand("no dropout", "capture"))
    night = night.with_header(references=kept_jobs([job(1, soak(1, seen(13, 5)))]))
    (told,) = of_job([course_of(night)]).failures
    hours = told.since.over / H
    assert told.since.events == 0
    assert told.chance == pytest.approx((5 / (5 + hours)) ** 13)
    assert told.outlived


def test_a_failed_soak_without_a_journal_cannot_be_outlived():
    """One that did not fail says nothing against it."""
    gone = soak(1, unread="journal missing", grade="not ready: failed")
    (point,) = to_outlive(header(job(1, gone)))
    assert "journal missing" in point
    assert to_outlive(header(job(1, replace(gone, grade="not ready: incomplete")))) == []


def hot(
    limit: float, lasted_h: float, ambient: float | None, *, met: bool, spot: str = "lid"
) -> Demand:
    need = demand("at most", "probe.outside", limit, check="spots", unit="degC")
    need = replace(need, params={"spot": spot})
    return Demand(
        requirement=to_json(need),
        source="probe.outside",
        met=met,
        lasted_s=lasted_h * H,
        ambient_degc=ambient,
        functions=("cooling",),
    )


@pytest.mark.parametrize(
    ("since", "enough"),
    [
        (hot(60, 4, 22, met=True), True),
        (hot(55, 4, 25, met=True), True),
        (hot(60, 4, 21.2, met=True), True),
        (hot(65, 4, 22, met=True), False),
        (hot(60, 3, 22, met=True), False),
        (hot(60, 4, 20, met=True), False),
        (hot(60, 4, None, met=True), False),
        (hot(60, 4, 22, met=True, spot="rear"), False),
        (hot(60, 4, 22, met=False), False),
    ],
)
def test_heat_is_outlived_by_the_same_limit_for_as_long_in_a_room_as_hot(since, enough):
    """Another spot, a looser limit, a shorter time or a cooler room shows nothing of it."""
    assert answers(since, hot(60, 4, 22, met=False)) is enough


def test_a_trip_is_outlived_by_any_demand_on_heat_at_its_spot():
    """A script without demands on heat tripped; a later one shows the spot."""
    trip = Demand(requirement={}, source="probe.outside", met=False, lasted_s=600.0)
    assert answers(hot(60, 4, 22, met=True), trip)
    other = replace(hot(60, 4, 22, met=True), source="probe.heatsink")
    assert not answers(other, trip)
    (point,) = to_outlive(header(job(1, soak(1, demands=(trip,)))))
    assert "The guard never has to cut the power for outside" in point


def test_demands_outlived_in_a_job_before_are_asked_for_no_more():
    """As for what is counted."""
    failed = soak(1, demands=(hot(60, 4, 22, met=False),))
    again = soak(3, demands=(hot(60, 4, 22, met=True),))
    assert to_outlive(header(job(1, failed)))
    assert to_outlive(header(job(1, failed), job(2, again))) == []


def test_a_header_keeps_no_demand_that_was_always_met():
    """It would grow with every night."""
    soaks = [
        soak(1, demands=(hot(60, 4, 22, met=True), hot(60, 4, 22, met=False, spot="rear"))),
        soak(2, demands=(hot(60, 4, 22, met=True), hot(60, 4, 22, met=True, spot="rear"))),
    ]
    kept = only_needed(soaks)
    assert [len(one.demands) for one in kept] == [1, 1]


def test_what_the_header_keeps_comes_back_as_it_was():
    """By the names of its terms."""
    jobs = (job(1, repair(1), soak(2, seen(3, 4), demands=(hot(60, 4, 22, met=False),))),)
    assert jobs_before(header(*jobs)) == jobs


def test_a_header_of_a_later_version_is_refused_in_one_sentence():
    """What it keeps may mean more than this version knows."""
    newer = header_with(
        header(), references={"jobs_before": [{"job_id": "x", "tag": "S1", "new": 1}]}
    )
    with pytest.raises(JournalError, match="jobs before cannot be read"):
        jobs_before(newer)


def test_failures_that_came_close_together_are_outlived_as_the_bouts_they_were():
    """13 losses in 5 h, all within a minute: one bout, and six such hours of quiet are luck."""
    close = replace(seen(13, 5), bouts=1, live=2 * H)
    told = left(job(1, soak(1, close)))
    assert told
    assert told.needed == pytest.approx(19 * 2 * H)
    (point,) = to_outlive(header(job(1, soak(1, close))))
    assert "They may have come in 1 bout and count as one." in point


def test_failures_of_which_an_older_program_kept_no_bouts_count_as_one():
    """What it kept is a count and a time, and all may have been one bout."""
    told = left(job(1, soak(1, replace(seen(13, 5), bouts=None, live=None))))
    assert told
    assert told.needed == pytest.approx(19 * 5 * H)


def test_what_an_older_program_kept_of_an_intake_is_still_read():
    """Its movements stand under `seen_before`."""
    moved = [{"heat": "hot", "events": 5, "hours": 0.1}]
    older = header_with(header(), references={"seen_before": {"port": "video", "moved": moved}})
    told = moved_before(older, "video", "hot")
    assert (told.events, told.over) == (5, pytest.approx(360))
    assert (told.bouts, told.live) == (1, pytest.approx(360)), "nobody knows how they came"
    assert moved_before(older, "video", "cold").events == 0
    assert outlived(older) == Before()
