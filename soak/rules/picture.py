"""Whether the picture stays."""

from collections.abc import Callable, Sequence
from typing import Any

from soak.derive.course import Course
from soak.derive.events.bouts import placed
from soak.derive.events.dropouts import Episode
from soak.derive.events.faults import UnitFault, terms_of
from soak.derive.events.losses import losses_of
from soak.derive.jobs_before import FailureKind
from soak.derive.said import in_short
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import total_s
from soak.derive.starting.early import early_of
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bouts import by_bouts, how_often
from soak.rules.core.breaks import DROPOUTS, ShorterBreaks
from soak.rules.core.finding import Value, not_shown, point_at, settle
from soak.rules.core.hourly import (
    Hourly,
    HourlyTerms,
    allowed_by,
    at_that_rate,
    by_the_hour,
    hourly,
)
from soak.rules.core.picture_rests import rests_allowed
from soak.rules.core.reads import Counted, rate
from soak.rules.core.rule import Bounds, Harm, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import LossTerms
from soak.words import NOTHING_SAID, Amount, Message, counted, msg, paragraph, sentence

_METHOD = msg(
    "Episodes counted while the unit had power and was started; one-sided upper bound of the "
    "rate per hour after NIST/SEMATECH e-Handbook 8.4.5.1 (chi-square)"
)


def _faults(found: Sequence[Episode], source: str) -> list[UnitFault]:
    return [
        UnitFault(episode.from_s, episode.to_s, episode.kind, text=in_short(episode), source=source)
        for episode in found
    ]


def _settled(
    need: Requirement,
    soaks: Sequence[Course],
    chosen: Sequence[Sequence[Episode]],
    told: Callable[[int], Message],
    shorter: int = 0,
    together: Hourly[Episode] | None = None,
) -> Finding:
    """Settle the requirement that the chosen episodes of each soak are no more than `limit`.

    Parameters
    ----------
    shorter : int
        Losses beside the chosen ones that are on record and too short to be among them.
    together : Hourly or None
        What all stretches count together against what was allowed; None: each by itself.
    """
    source = need.quantity or "capture"
    watched = [losses_of(need, course).watched for course in soaks]
    watched_s = sum(total_s(spans) for spans in watched)
    hours = watched_s / 3600
    number = sum(map(len, chosen))
    early = early_of(watched, [[loss.from_s for loss in losses] for losses in chosen])
    pointers = _pointed(soaks, chosen, source)
    covered = [coverage(c, need, c.unseen(source, terms_of(need, c.header).bad)) for c in soaks]
    detail = _detail(chosen, early, hours)
    if hours <= 0 and not number:
        why = covered[-1].why or msg("the unit was never seen with power on and started")
        return not_shown(need, why, detail=detail)
    aside = msg("Early half {early}, late half {late}.", early=early, late=number - early)
    lost = [[(episode.from_s, episode.to_s) for episode in episodes] for episodes in chosen]
    often = how_often(need, placed(zip(watched, lost, strict=True)))
    because = paragraph(
        _because(told(number), watched_s, pointers, shorter=shorter, together=together),
        often.told,
        rests_allowed(soaks[-1]),
    )
    found_value = Value(
        float(number),
        bound_high=often.most_per_h,
        margin=(need.limit or 0.0) - number,
        method=by_bouts(_METHOD),
        over=watched_s,
        shorter=shorter,
    )
    good = number <= (need.limit or 0.0)
    if together is not None:
        found_value = by_the_hour(found_value, together, number)
        good = together.good
        detail |= together.detail
    return settle(
        need,
        good,
        because,
        found=found_value,
        covered=covered,
        pointers=pointers,
        aside=aside if pointers else NOTHING_SAID,
        detail={**detail, **often.detail},
    )


def _pointed(
    soaks: Sequence[Course], chosen: Sequence[Sequence[Episode]], source: str
) -> list[Pointer]:
    return [
        pointer
        for course, episodes in zip(soaks, chosen, strict=True)
        for pointer in point_at(course, _faults(episodes, source))
    ]


def _detail(chosen: Sequence[Sequence[Episode]], early: int, hours: float) -> dict[str, Any]:
    all_of_them = [episode for episodes in chosen for episode in episodes]
    return {
        "count": len(all_of_them),
        "early": early,
        "late": len(all_of_them) - early,
        "dropouts": sum(len(episode.dropouts) for episode in all_of_them),
        "hours": round(hours, 6),
        "longest_s": max((episode.longest_s for episode in all_of_them), default=0.0),
    }


def _because(
    said: Message,
    watched_s: float,
    pointers: Sequence[Pointer],
    shorter: int,
    together: Hourly[Episode] | None,
) -> Message:
    time = Amount(watched_s, "s")
    return paragraph(
        sentence(msg("{counted} in {time} with power on", counted=said, time=time)),
        msg("First: {what}.", what=pointers[0].what) if pointers else None,
        together.words if together else None,
        counted(
            shorter,
            "1 shorter one is on record.",
            "{count} shorter ones are on record.",
            none=NOTHING_SAID,
        ),
    )


def _no_dropout(need: Requirement, terms: LossTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` losses were as long as `at_least_s`."""
    by_soak = [losses_of(need, course) for course in soaks]
    shorter = sum(len(losses.short) for losses in by_soak)
    return _settled(need, soaks, [losses.long for losses in by_soak], _dropouts, shorter=shorter)


def _dropouts(number: int) -> Message:
    return counted(number, "1 dropout", "{count} dropouts", none=msg("no dropout"))


def _never_lost(need: Requirement, terms: LossTerms) -> Message:
    return msg(
        "The picture is never lost for {shortest} or longer while the unit is on",
        shortest=Amount(terms.at_least_s, "s"),
    )


NO_DROPOUT = Rule(
    name="no dropout",
    terms=LossTerms,
    judge=_no_dropout,
    demands=_never_lost,
    reads=DROPOUTS,
    lacks=lacks.time,
    section=Section.PICTURE,
    bounds=Bounds.RATE,
    anywhere=True,
    failures=FailureKind.PICTURE,
)


def _no_restart(need: Requirement, terms: LossTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the unit neither restarted nor hung by itself."""
    chosen = [
        [episode for episode in losses_of(need, course).long if episode.kind in ("restart", "hang")]
        for course in soaks
    ]
    return _settled(need, soaks, chosen, _restarts)


def _restarts(number: int) -> Message:
    return counted(number, "1 restart", "{count} restarts", none=msg("no restart"))


def _runs_on(need: Requirement, terms: LossTerms) -> Message:
    return counted(
        need.limit or 0,
        "The unit restarts or hangs at most once while its power is on",
        "The unit restarts or hangs at most {count} times while its power is on",
        none=msg("The unit does not restart or hang while its power is on"),
    )


NO_RESTART = Rule(
    name="no restart",
    terms=LossTerms,
    judge=_no_restart,
    demands=_runs_on,
    reads=Counted(
        bound_words=rate,
        large_words=lambda count, over_s: counted(
            count,
            "1 restart of its own in {time}",
            "{count} restarts of its own in {time}",
            time=Amount(over_s, "s"),
        ),
    ),
    lacks=lacks.time,
    section=Section.STARTS,
    bounds=Bounds.RATE,
    anywhere=True,
    failures=FailureKind.RESTARTS,
    harm=Harm.RESTART,
)


def _short_dropouts(need: Requirement, terms: HourlyTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that losses too short to count by themselves are no more than was allowed before.

    They are counted over all stretches of a soak that demand it, against one count for them all.
    """
    chosen = [losses_of(need, course).short for course in soaks]
    together = hourly(
        need, terms, soaks, lambda requirement, course: losses_of(requirement, course).short
    )
    return _settled(need, soaks, chosen, _shorter, together=together)


def _shorter(number: int) -> Message:
    return counted(
        number, "1 short dropout", "{count} short dropouts", none=msg("no short dropout")
    )


def _rarely_lost(need: Requirement, terms: HourlyTerms) -> Message:
    shortest = Amount(terms.at_least_s, "s")
    allowed = allowed_by(need, terms)
    if allowed is not None and need.limit:
        return counted(
            allowed,
            "The picture is lost for less than {shortest} at most once in {time} ({rate} an hour)",
            "The picture is lost for less than {shortest} at most {count} times in {time} ({rate} "
            "an hour)",
            none=msg("The picture is not even lost for less than {shortest}", shortest=shortest),
            shortest=shortest,
            time=Amount(terms.over_s or 0.0, "s"),
            rate=at_that_rate(need),
        )
    return counted(
        need.limit or 0,
        "The picture is lost for less than {shortest} at most once an hour",
        "The picture is lost for less than {shortest} at most {count} times an hour",
        none=msg("The picture is not even lost for less than {shortest}", shortest=shortest),
        shortest=shortest,
    )


DROPOUTS_PER_HOUR = Rule(
    name="dropouts per hour",
    terms=HourlyTerms,
    judge=_short_dropouts,
    demands=_rarely_lost,
    reads=ShorterBreaks(bound_words=rate, of=DROPOUTS),
    lacks=lacks.time,
    section=Section.PICTURE,
    bounds=Bounds.RATE,
    unit="1/h",
    anywhere=True,
)
