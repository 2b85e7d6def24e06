"""Whether a coded clip came whole and steadily: read from the stick, decoded and shown."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.seeing.coverage import Coverage, coverage_besides
from soak.derive.seen import SILENT_S, trace
from soak.derive.spans import Span, common, inside, merged, minus, total_s
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.allowed import but_for
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.port import PortTerms
from soak.rules.core.reads import Counted, Reads
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.words import Amount, Message, Number, Percent, counted, msg, paragraph

EVERY_S = 1.0
"""Readings of a clip come once a second, for the second before them. Our own choice."""

_COUNTED = msg(
    "Frames of the clip counted by the number and check in each; a frame lies within 1 s"
)
_COLOURED = msg(
    "Tiles of known colours; black and white are taken as they come, so any range may be set"
)
_NEVER = msg("no frame of the clip was ever read")
_LANES = ("blue", "green", "red")


def _played_whole(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` frames of the clip were lost."""
    came = _sum(soaks, need, "clip.came")
    lost = _sum(soaks, need, "clip.lost")
    if not came or lost is None:
        return not_shown(need, _NEVER)
    allowed = need.limit or 0.0
    watched_s = _watched_s(soaks, need)
    longest = max(_largest(course, need, "clip.longest_run")[0] for course in soaks)
    because = msg(
        "Read {from_port} and shown: {came} of {all} frames in {time}; {run} of them in one "
        "unbroken run.",
        from_port=_from(terms),
        came=Number(came, ","),
        all=Number(came + lost, ","),
        time=Amount(watched_s, "s"),
        run=Number(longest, ","),
    )
    unseen = _sum(soaks, need, "clip.unseen") or 0.0
    if unseen:
        more = Number(unseen, ",")
        gaps = msg("{more} more fell into gaps of the capture and say nothing.", more=more)
        because = paragraph(because, gaps)
    value = Value(lost, margin=allowed - lost, method=_COUNTED, over=came + lost)
    pointers = _where(soaks, need, "clip.lost", msg("frames lost"))
    detail = {"frames": came, "lost": lost, "unseen": unseen, "longest_run": longest}
    detail["hours"] = watched_s / 3600
    if lost <= allowed and unseen > need.blind_allowed * (came + unseen):
        why = msg(
            "{share} of the frames fell into gaps of the capture, where nobody saw them",
            share=Percent(unseen / (came + unseen), 1),
        )
        return not_shown(need, why, value, pointers=pointers, detail=detail)
    return settle(
        need,
        lost <= allowed,
        because,
        found=value,
        covered=_covered(soaks, need),
        pointers=pointers,
        detail=detail,
    )


def _from(terms: PortTerms) -> Message:
    """Say where the clip is read from, to stand within a sentence."""
    return msg("from the {port}", port=terms.called) if terms.over else msg("from the stick")


def _all_shown(need: Requirement, terms: PortTerms) -> Message:
    demand = msg(
        "Every frame of the clip is read {from_port}, decoded and shown", from_port=_from(terms)
    )
    return but_for(need, demand)


PLAYED_WHOLE = Rule(
    name="played whole",
    terms=PortTerms,
    judge=_played_whole,
    demands=_all_shown,
    reads=Counted(),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
)


def _played_steadily(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that frames stand too long at most `limit` times an hour."""
    long = _sum(soaks, need, "clip.stuttered")
    if not _sum(soaks, need, "clip.came") or long is None:
        return not_shown(need, _NEVER)
    watched_s = _watched_s(soaks, need)
    if not watched_s:
        return not_shown(need, msg("the stretch was over before the clip was watched"))
    hours = watched_s / 3600
    allowed = need.limit or 0.0
    because = counted(
        long,
        "1 frame stood longer than twice the usual time in {time}.",
        "{count} frames stood longer than twice the usual time in {time}.",
        time=Amount(watched_s, "s"),
    )
    value = Value(long / hours, margin=allowed - long / hours, method=_COUNTED, over=watched_s)
    pointers = _where(soaks, need, "clip.stuttered", msg("frames stuttered"))
    return settle(
        need,
        long <= allowed * hours,
        because,
        found=value,
        covered=_covered(soaks, need),
        pointers=pointers,
    )


def _seldom_stutters(need: Requirement, terms: PortTerms) -> Message:
    return msg(
        "The clip {from_port} does not stutter more than {number}/h",
        from_port=_from(terms),
        number=Number(need.limit or 0.0, "g"),
    )


PLAYED_STEADILY = Rule(
    name="played steadily",
    terms=PortTerms,
    judge=_played_steadily,
    demands=_seldom_stutters,
    reads=Reads(),
    lacks=lacks.time,
    section=Section.PICTURE,
    bounds=Bounds.NONE,
    unit="1/h",
)


def _played_in_colour(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no colour lane is further from what the clip holds than `limit`."""
    read = [_sum(soaks, need, f"clip.colour_error.{lane}") is not None for lane in _LANES]
    if not _sum(soaks, need, "clip.came") or not all(read):
        return not_shown(need, _NEVER)
    allowed = need.limit or 0.0
    errors: dict[str, float] = {}
    pointers: list[Pointer] = []
    for lane in _LANES:
        by_soak = [_largest(course, need, f"clip.colour_error.{lane}") for course in soaks]
        errors[lane] = max(error for error, _ in by_soak)
        pointers += [
            Pointer(course.header.soak_id, t_s - EVERY_S, t_s, _off(lane, error))
            for course, (error, t_s) in zip(soaks, by_soak, strict=True)
            if error > allowed
        ]
    worst = max(errors, key=lambda lane: (errors[lane], lane))
    because = msg(
        "Largest error of each colour, of full scale: blue {blue}, green {green}, red {red}.",
        blue=Percent(errors["blue"]),
        green=Percent(errors["green"]),
        red=Percent(errors["red"]),
    )
    margin = allowed - errors[worst]
    value = Value(errors[worst], margin=margin, method=_COLOURED)
    covered = _covered(soaks, need)
    detail = {"lane": worst}
    return settle(
        need, margin >= 0, because, found=value, covered=covered, pointers=pointers, detail=detail
    )


def _off(lane: str, error: float) -> Message:
    """Say how far a colour lane was off."""
    share = Percent(error)
    named = {
        "blue": msg("blue off by {share}", share=share),
        "green": msg("green off by {share}", share=share),
        "red": msg("red off by {share}", share=share),
    }
    return named[lane]


def _keeps_colours(need: Requirement, terms: PortTerms) -> Message:
    return msg(
        "The colours of the clip {from_port} come within {share} of full scale as they were made",
        from_port=_from(terms),
        share=Percent(need.limit or 0.0),
    )


PLAYED_IN_COLOUR = Rule(
    name="played in colour",
    terms=PortTerms,
    judge=_played_in_colour,
    demands=_keeps_colours,
    reads=Reads(as_share=True),
    lacks=lacks.time,
    section=Section.PICTURE,
    bounds=Bounds.NONE,
)


def _covered(soaks: Sequence[Course], need: Requirement) -> list[Coverage]:
    """Return what each soak saw of the clip: a clip that nobody read for long is a hole."""
    covered = []
    for course in soaks:
        blind = course.blind("capture")
        unread = _unread(course, need)
        why = msg("for {time} no frame of the clip was read", time=Amount(total_s(unread), "s"))
        covered.append(coverage_besides(course, need, blind, hidden=unread, why=why))
    return covered


def _unread(course: Course, need: Requirement) -> list[Span]:
    """Return the longer times in which the unit was started and nothing of the clip came."""
    one = trace(course, need, "clip.came")
    read = [(float(t_s) - EVERY_S, float(t_s)) for t_s in one.t_s[one.value > 0]]
    meant = common(course.windows(need.stretch), course.started)
    spans = minus(meant, merged([*read, *course.blind("capture")]))
    return [(from_s, to_s) for from_s, to_s in spans if to_s - from_s > SILENT_S]


def _largest(course: Course, need: Requirement, quantity: str) -> tuple[float, float]:
    """Return the largest reading while the unit was on and started, and when it was."""
    one = trace(course, need, quantity)
    there = inside(one.t_s, course.started)
    if not there.any():
        return 0.0, 0.0
    at = int(np.argmax(np.where(there, one.value, -1.0)))
    return float(one.value[at]), float(one.t_s[at])


def _sum(soaks: Sequence[Course], need: Requirement, quantity: str) -> float | None:
    """Return the sum while the unit was on and started; None if it was never read then."""
    read = 0
    summed = 0.0
    for course in soaks:
        one = trace(course, need, quantity)
        there = one.value[inside(one.t_s, course.started)]
        read += len(there)
        summed += float(there.sum())
    return summed if read else None


def _where(
    soaks: Sequence[Course], need: Requirement, quantity: str, what: Message
) -> list[Pointer]:
    """Return when a count was not zero while the unit was on and started."""
    pointers = []
    for course in soaks:
        one = trace(course, need, quantity)
        some = one.t_s[inside(one.t_s, course.started) & (one.value > 0)]
        soak_id = course.header.soak_id
        pointers += [Pointer(soak_id, float(t_s) - EVERY_S, float(t_s), what) for t_s in some]
    return pointers


def _watched_s(soaks: Sequence[Course], need: Requirement) -> float:
    """Return for how long the clip was watched while the unit was on and started, s."""
    watched_s = 0.0
    for course in soaks:
        one = trace(course, need, "clip.came")
        seconds = float(np.sum(inside(one.t_s, course.started))) * EVERY_S
        watched_s += min(seconds, total_s(course.windows(need.stretch)))
    return watched_s
