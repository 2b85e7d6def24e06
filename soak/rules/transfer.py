"""Whether data crosses the unit's port whole, without stalls, and as fast as at first."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault, wrong_data
from soak.derive.events.wrong_data import (
    all_kinds,
    details_words,
    put_together,
    refused_words,
    wrong_transfers,
    wrong_words,
)
from soak.derive.jobs_before import FailureKind
from soak.derive.seeing.coverage import coverage, covered_while_written
from soak.derive.seen import trace, up_to_off
from soak.derive.spans import holds
from soak.evidence import Floats
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.allowed import Decided
from soak.rules.core.finding import Value, not_shown, point_at, settle
from soak.rules.core.port import PortTerms, on_units_port, over_words
from soak.rules.core.reads import Counted, Reads, Side
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.terms import terms
from soak.words import Amount, Message, Percent, Stated, joined, msg, paragraph, sentence

_WRITTEN = "transfer.stick.written"

FEWEST = 5
"""So many chunks on either side make a median worth comparing. Our own choice."""


@on_units_port
def _no_wrong_data(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` bytes came back other than they were written.

    A place that is wrong again and again is counted once in each soak. Where the stick took no more
    data nothing is shown of writing, and a medium that turns read-only is no good sign.
    """
    allowed = need.limit or 0.0
    pointers = []
    covered = []
    several = []
    written_bytes = 0.0
    chunks = 0
    for course in soaks:
        one = trace(course, need)
        windows = course.windows(need.stretch)
        faults = [fault for fault in wrong_data(course) if holds(fault.from_s, windows)]
        here = set(one.t_s.tolist())
        wrong = [w for w in wrong_transfers(course) if w.t_s in here and holds(w.t_s, windows)]
        several.append(put_together(wrong))
        chunks += len(one.t_s)
        written_bytes += float(course.series(_WRITTEN, need.stretch)[1].sum())
        pointers += point_at(course, faults)
        covered.append(covered_while_written(course, need, one.unseen))
    if not chunks:
        return not_shown(need, covered[-1].why or msg("no data was transferred"))
    all_of_it = all_kinds(several)
    wrong_bytes = all_of_it.size_bytes
    method = msg("Wrong bytes counted, each place once")
    value = Value(wrong_bytes, margin=allowed - wrong_bytes, method=method, over=written_bytes)
    sentences = [wrong_words(all_of_it)]
    if written_bytes:
        sentences.append(msg("{size} were written", size=Amount(written_bytes, "B")))
    because = sentence(joined("; ", sentences))
    detail = {"readings": chunks, "written_bytes": written_bytes}
    good = wrong_bytes <= allowed
    if all_of_it.kinds:
        detail |= all_of_it.as_json()
    refused = joined("; ", dict.fromkeys(refused_words(soak, need.stretch) for soak in soaks))
    aside = paragraph(details_words(all_of_it), None if good or not refused else sentence(refused))
    return settle(
        need,
        good,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=detail,
        aside=aside,
    )


def _as_written(need: Requirement, terms: PortTerms) -> Message:
    over_port = over_words(terms)
    if not need.limit:
        return msg("Every byte read back {over_port} is as it was written", over_port=over_port)
    return msg(
        "All but {count} B read back {over_port} is as it was written",
        count=round(need.limit),
        over_port=over_port,
    )


def _large(wrong_bytes: float, written_bytes: float) -> Message:
    """Say how much was wrong; what could not be read or written did not come back at all."""
    wrong = Amount(wrong_bytes, "B")
    written = Amount(written_bytes, "B")
    if not wrong_bytes:
        return msg("all of {written} written came back right", written=written)
    if not written_bytes:
        return msg("{wrong} did not come back right", wrong=wrong)
    return msg("{wrong} of {written} written did not come back right", wrong=wrong, written=written)


NO_WRONG_DATA = Rule(
    name="no wrong data",
    terms=PortTerms,
    judge=_no_wrong_data,
    demands=_as_written,
    reads=Counted(
        large_words=_large,
    ),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    unit="B",
    anywhere=True,
    failures=FailureKind.DATA,
)


@on_units_port
def _no_stall(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no chunk took longer than `limit` s."""
    if need.limit is None:
        return not_shown(need, msg("the requirement gives no limit"))
    traces = [trace(course, need) for course in soaks]
    pairs = list(zip(soaks, traces, strict=True))
    covered = [coverage(course, need, one.unseen) for course, one in pairs]
    whole = [(course, up_to_off(course, one)) for course, one in pairs]
    read = [(course, one) for course, one in whole if len(one.t_s)]
    if not read:
        return not_shown(need, covered[-1].why or msg("no data was transferred"))
    course, worst = max(read, key=lambda pair: float(pair[1].value.max()))
    at = int(np.argmax(worst.value))
    slowest_s = float(worst.value[at])
    when_s = float(worst.t_s[at])
    because = msg(
        "The slowest chunk took {time}; {allowed} are allowed.",
        time=Amount(slowest_s, "s"),
        allowed=Amount(need.limit, "s"),
    )
    what = msg("slowest chunk")
    pointer = Pointer(course.header.soak_id, when_s - slowest_s, when_s, what)
    margin = need.limit - slowest_s
    value = Value(slowest_s, margin=margin, method=msg("Slowest chunk"))
    detail = {"chunks": sum(len(one.t_s) for _, one in read)}
    return settle(
        need, margin >= 0, because, found=value, covered=covered, pointers=[pointer], detail=detail
    )


def _first_stall(need: Requirement, terms: PortTerms, course: Course) -> Sequence[UnitFault]:
    """Return the first chunk that took too long."""
    if need.limit is None or not course.stick_proves_unit:
        return []
    one = up_to_off(course, trace(course, need))
    beyond = np.flatnonzero(one.value > need.limit)
    if not len(beyond):
        return []
    when_s = float(one.t_s[beyond[0]])
    text = msg(
        "{quantity} took {time}, limit {limit}",
        quantity=need.quantity,
        time=Amount(float(one.value[beyond[0]]), "s"),
        limit=Amount(need.limit, "s"),
    )
    return [UnitFault(when_s, when_s, "beyond limit", text=text, source=need.quantity)]


def _brisk(need: Requirement, terms: PortTerms) -> Message:
    return msg(
        "No transfer {over_port} takes longer than {time}",
        over_port=over_words(terms),
        time=Amount(need.limit or 0.0, "s"),
    )


NO_STALL = Rule(
    name="no stall",
    terms=PortTerms,
    judge=_no_stall,
    demands=_brisk,
    reads=Reads(),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    unit="s",
    beyond=_first_stall,
    anywhere=True,
)


@terms
class SpeedTerms(PortTerms):
    """For how long from the first transfer on the speed is that at first, s."""

    first_s: float = 300.0


class _Compared(NamedTuple):
    """The speeds at first and those to be held against them, B/s; shapes (n,) and (m,)."""

    first: Floats
    later_t_s: Floats
    later: Floats


def _compared(course: Course, need: Requirement, terms: SpeedTerms) -> _Compared | None:
    """Return what is compared; None where either side is too short for a median.

    The first speed is that of the soak's first stretch with a transfer: a link that has already
    fallen back when a later stretch begins would else be compared with itself.
    """
    own = trace(course, need)
    if not len(own.t_s):
        return None
    first = trace(course, replace(need, stretch=_first_stretch(course, need)))
    end_s = first.t_s[0] + terms.first_s
    early = first.t_s <= end_s
    later = own.t_s > end_s
    if min(early.sum(), later.sum()) < FEWEST:
        return None
    return _Compared(first.value[early], own.t_s[later], own.value[later])


def _first_stretch(course: Course, need: Requirement) -> str:
    """Return the stretch whose transfer came first, of those that read often enough."""
    began: dict[str, float] = {}
    for requirement in course.header.requirements:
        if requirement.quantity == need.quantity:
            t_s = trace(course, requirement).t_s
            if len(t_s) >= FEWEST:
                began[requirement.stretch] = float(t_s[0])
    return min(began, key=lambda name: began[name], default=need.stretch)


def _least(need: Requirement) -> float:
    return 0.6 if need.limit is None else need.limit


@on_units_port
def _speed_kept(need: Requirement, terms: SpeedTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the later median speed is at least `limit` times that of the beginning."""
    ratios = []
    covered = []
    pointers = []
    shown = []
    for course in soaks:
        one = trace(course, need)
        covered.append(coverage(course, need, one.unseen))
        compared = _compared(course, need, terms)
        if compared is None:
            continue
        before = float(np.median(compared.first))
        after = float(np.median(compared.later))
        if before <= 0:
            continue
        ratios.append(after / before)
        shown.append((Amount(before, "B/s"), Amount(after, "B/s")))
        span = (float(one.t_s[0]), float(one.t_s[-1]))
        pointers.append(Pointer(course.header.soak_id, *span, msg("transfer speed")))
    if not ratios:
        why = covered[-1].why or msg("there are too few chunks to compare early with late")
        return not_shown(need, why)
    worst = ratios.index(min(ratios))
    margin = ratios[worst] - _least(need)
    because = msg(
        "Median speed {before} at first, {after} after: {share}; at least {limit} are demanded.",
        before=shown[worst][0],
        after=shown[worst][1],
        share=Percent(ratios[worst]),
        limit=Percent(_least(need)),
    )
    value = Value(ratios[worst], margin=margin, method=msg("Ratio of medians"))
    return settle(
        need, margin >= 0, because, found=value, covered=covered, pointers=[pointers[worst]]
    )


def _slow(need: Requirement, terms: SpeedTerms, course: Course) -> Sequence[UnitFault]:
    """Return from when on the speed, a median over a few readings, was too low, if it was."""
    compared = _compared(course, need, terms)
    if compared is None or _speed_kept(need, terms, [course]).verdict is not Verdict.NOT_MET:
        return []
    running = np.median(sliding_window_view(compared.later, FEWEST), axis=1)
    slow = np.flatnonzero(running < _least(need) * np.median(compared.first))
    if not len(slow):
        return []
    since_s = float(compared.later_t_s[slow[0]])
    return [
        UnitFault(
            since_s, since_s, "slow transfer", text=msg("transfer became slow"), source="stick"
        )
    ]


def _keeps_speed(need: Requirement, terms: SpeedTerms) -> Message:
    return msg(
        "Reading {over_port} keeps {share} of the speed it had at first",
        over_port=over_words(terms),
        share=Stated(_least(need) * 100, "%"),
    )


SPEED_KEPT = Rule(
    name="speed kept",
    terms=SpeedTerms,
    judge=_speed_kept,
    demands=_keeps_speed,
    reads=Decided(side=Side.AT_LEAST, as_share=True, decides=lambda need, terms: _least(need)),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    beyond=_slow,
)
