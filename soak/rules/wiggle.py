"""Whether a port keeps contact while its plug is moved, and which way it does not."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from soak.derive.course import Course
from soak.derive.events.moved import REST, Moved, movements, placed_in, unseen_at
from soak.derive.jobs_before import FailureKind, moved_before
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import inside
from soak.frozen.shape import as_json, read_as
from soak.instruments import WATCHES
from soak.records import Json, Requirement
from soak.rules.core import lacks
from soak.rules.core.bouts import by_bouts, how_often
from soak.rules.core.finding import Value, conclude, not_shown, not_tested, settle
from soak.rules.core.moved_detail import Before, MovedDetail, RestAgainstMoving
from soak.rules.core.reads import Counted, rate
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.statistics.bouts import Bouts
from soak.statistics.compare import (
    LUCK,
    Comparison,
    chance_by_luck,
    compare_rates,
    quiet_needed,
)
from soak.terms import MovedTerms
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Number,
    Percent,
    Said,
    Stated,
    all_of,
    counted,
    joined,
    msg,
    paragraph,
    sentence,
)

_ROUNDING_S = 0.5
"""So much less than its time still counts as the whole of a movement, s: records are batched. Our
own choice."""
_SEEN_SHARE = 0.9
"""A movement seen for less than this share of its time counts for nothing. Our own choice."""

_METHOD = msg(
    "Episodes counted; one-sided upper bound of the rate per hour of moving after NIST/SEMATECH "
    "e-Handbook 8.4.5.1; moving against rest: exact conditional test of two Poisson counts, "
    "one-sided (Przyborowski & Wilenski 1940)"
)
_UNMOVED = msg("nobody moved the plug")


@dataclass(frozen=True, slots=True)
class _Tally:
    """What was found over all soaks."""

    found: Sequence[tuple[Course, Sequence[Moved]]]

    @property
    def moved(self) -> list[Moved]:
        """All movements and rests."""
        return [movement for _, moved in self.found for movement in moved]

    def of(self, rest: bool) -> list[Moved]:
        """Return the rests, or the movements."""
        return [moved for moved in self.moved if (moved.movement == REST) == rest]

    def number(self, rest: bool) -> int:
        """Count the episodes."""
        return sum(len(moved.events) for moved in self.of(rest))

    def seen_s(self, rest: bool) -> float:
        """Sum up the time watched, s."""
        return sum(moved.seen_s for moved in self.of(rest))

    def bouts(self, rest: bool) -> Bouts:
        """Count as few bouts as there may be; times in s."""
        return placed_in(self.of(rest)).fewest()

    def by_movement(self) -> dict[str, int]:
        """Count the episodes of each movement."""
        counts: Counter[str] = Counter()
        for moved in self.moved:
            counts[moved.movement] += len(moved.events)
        return dict(counts)

    def pointers(self) -> list[Pointer]:
        """Return where the episodes lie."""
        return [
            Pointer(course.header.soak_id, event.from_s, event.to_s, _told(movement, event.text))
            for course, moved in self.found
            for movement in moved
            for event in movement.events
        ]


def _told(one: Moved, what: Message) -> Message:
    return msg(
        "{movement} ({repeat}): {what}",
        movement=movement_words(one.movement),
        repeat=one.repeat,
        what=what,
    )


def movement_words(movement: str) -> Said:
    """Return a movement as it is said."""
    return _MOVEMENTS.get(movement, movement)


_MOVEMENTS = {
    "up": msg("up"),
    "down": msg("down"),
    "left": msg("left"),
    "right": msg("right"),
    "in": msg("in"),
    "out": msg("out"),
    "twist": msg("twist"),
    REST: msg("rest"),
}


def _judge(need: Requirement, terms: MovedTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no episode began while the plug was moved, over all soaks; rest must be clean."""
    if not terms.sources:
        return not_tested(need, msg("nothing watches the port {port}", port=terms.port))
    tally = _Tally([(course, movements(need, terms, course)) for course in soaks])
    covered = [coverage(course, need, unseen_at(need, terms, course)) for course in soaks]
    number = tally.number(False)
    resting = tally.number(True)
    moved_s = tally.seen_s(False)
    rest_s = tally.seen_s(True)
    detail = _detail(terms, tally)
    pointers = tally.pointers()
    if not tally.moved:
        return not_shown(need, _UNMOVED, detail=detail)
    often = how_often(need, placed_in(tally.of(False)))
    most_per_h = often.most_per_h
    margin = (need.limit or 0.0) - number
    value = Value(
        number, bound_high=most_per_h, margin=margin, method=by_bouts(_METHOD), over=moved_s
    )
    if resting:
        because = _even_at_rest(resting, rest_s)
        return conclude(
            need, Verdict.NOT_MET, because, found=value, pointers=pointers, detail=detail
        )
    if number:
        because = paragraph(sentence(_against(tally, number, moved_s, rest_s)), often.told)
        detail = {**detail, **often.detail}
        return conclude(
            need, Verdict.NOT_MET, because, found=value, pointers=pointers, detail=detail
        )
    lacking = _lacking(terms, tally, rest_s)
    if lacking or most_per_h is None:
        return not_shown(need, lacking or _UNMOVED, value, pointers=(), detail=detail)
    smallest = smallest_break(terms, soaks[-1])
    because = paragraph(
        _quiet(len(tally.of(False)), moved_s, most_per_h, need.confidence or 0.95),
        msg(
            "Shorter breaks than {smallest} are not seen.",
            smallest=smallest,
        ),
        _before(detail),
    )
    return settle(need, True, because, found=value, covered=covered, pointers=(), detail=detail)


def _even_at_rest(number: int, rest_s: float) -> Message:
    return counted(
        number,
        "It loses it even at rest: 1 episode in {time} with hands off.",
        "It loses it even at rest: {count} episodes in {time} with hands off.",
        time=Amount(rest_s, "s"),
    )


def _against(tally: _Tally, number: int, moved_s: float, rest_s: float) -> Message:
    """Say how often, which way, and what rest says to it."""
    by = Counter({m: n for m, n in tally.by_movement().items() if n})
    ways = joined(
        ", ",
        [
            msg("{movement} {number}", movement=movement_words(movement), number=count)
            for movement, count in by.most_common()
        ],
    )
    often = counted(
        number,
        "1 episode in {time} of moving ({ways})",
        "{count} episodes in {time} of moving ({ways})",
        time=Amount(moved_s, "s"),
        ways=ways,
    )
    if moved_s <= 0 or rest_s <= 0:
        return often
    return msg(
        "{often}, none in {rest} of rest; if moving made no difference, so quiet a rest would have "
        "a chance of {chance}",
        often=often,
        rest=Amount(rest_s, "s"),
        chance=Number(_rest_against_moving(tally).fewer, ".2g"),
    )


def _rest_against_moving(tally: _Tally) -> Comparison:
    """Compare rest with moving; what moving showed counts as few bouts as there may be."""
    moving = tally.bouts(False)
    live_s = moving.live or tally.seen_s(False)
    return compare_rates(tally.number(True), tally.seen_s(True), moving.number, live_s)


def _quiet(number: int, moved_s: float, most_per_h: float, confidence: float) -> Message:
    return counted(
        number,
        "No episode in 1 movement of {time} together: fewer than {high} bouts an hour of moving at "
        "{level} confidence.",
        "No episode in {count} movements of {time} together: fewer than {high} bouts an hour of "
        "moving at {level} confidence.",
        time=Amount(moved_s, "s"),
        high=Number(most_per_h),
        level=Percent(confidence),
    )


def _lacking(terms: MovedTerms, tally: _Tally, rest_s: float) -> Message:
    """Say what is missing of what was promised; empty if nothing is."""
    long_enough_s = _SEEN_SHARE * terms.dwell_s - _ROUNDING_S
    done = Counter(moved.movement for moved in tally.of(False) if moved.seen_s >= long_enough_s)
    lacking = [name for name in terms.movements if done[name] < terms.repeats]
    if rest_s < _SEEN_SHARE * terms.rest_s - _ROUNDING_S:
        return msg(
            "only {seen} of {promised} of rest were watched",
            seen=Amount(rest_s, "s"),
            promised=Amount(terms.rest_s, "s"),
        )
    if lacking:
        return msg(
            "only {made} of {all} movements were watched; missing: {missing}",
            made=sum(min(n, terms.repeats) for n in done.values()),
            all=terms.repeats * len(terms.movements),
            missing=joined(", ", map(movement_words, lacking)),
        )
    return NOTHING_SAID


def _detail(terms: MovedTerms, tally: _Tally) -> Json:
    lengths = [event.to_s - event.from_s for movement in tally.moved for event in movement.events]
    moved_s = tally.seen_s(False)
    rest_s = tally.seen_s(True)
    newest, moved = tally.found[-1]
    detail: dict[str, Any] = {
        "by_movement": tally.by_movement(),
        "longest_s": round(max(lengths, default=0.0), 4),
        "moved_s": round(moved_s, 3),
        "rest_s": round(rest_s, 3),
        "heat": terms.heat,
        "spots_degc": _spots_degc(newest, moved),
    }
    if moved_s > 0 and rest_s > 0:
        compared = _rest_against_moving(tally)
        rest = RestAgainstMoving(chance=compared.fewer, method=compared.method)
        detail["rest_against_moving"] = as_json(rest)
    before = _seen_before(terms, newest, moved_s)
    return detail if before is None else {**detail, "before": as_json(before)}


def _seen_before(terms: MovedTerms, newest: Course, moved_s: float) -> Before | None:
    """Return how likely the quiet is by luck, from how often moving found it before the repair."""
    before = moved_before(newest.header, terms.port, terms.heat)
    events = before.bouts_told
    hours = round(before.live_told / 3600, 6)
    round_s = len(terms.movements) * terms.dwell_s
    if not events or hours <= 0 or round_s <= 0:
        return None
    chance = chance_by_luck(events, hours, moved_s / 3600)
    lacking_s = max(0.0, 3600 * quiet_needed(events, hours, LUCK) - moved_s)
    return Before(
        heat=terms.heat,
        events=events,
        hours=hours,
        seen=before.events,
        quiet_by_luck=chance,
        more_rounds=ceil(lacking_s / round_s),
    )


def _before(detail: Json) -> Message | None:
    before = read_as(MovedDetail, detail).before
    if before is None:
        return None
    chance = counted(
        before.events,
        "before the repair: 1 bout of episodes in {time} of moving; were it still there, the "
        "chance of this is {chance}",
        "before the repair: {count} bouts of episodes in {time} of moving; were it still there, "
        "the chance of this is {chance}",
        time=Amount(before.hours * 3600, "s"),
        chance=Percent(before.quiet_by_luck, 1),
    )
    more = counted(
        before.more_rounds,
        "1 more round would bring it to {luck}",
        "{count} more rounds would bring it to {luck}",
        luck=Percent(LUCK),
    )
    return sentence(joined("; ", [chance, more if before.more_rounds else None]))


def smallest_break(terms: MovedTerms, course: Course) -> Message:
    """Return the smallest break that this bench can see, in words."""
    rate_hz = course.header.fixture.identity("capture").rate_hz
    frame = msg("one frame")
    if rate_hz:
        frame = msg("one frame ({time} ms)", time=Number(1000 / rate_hz, ".0f"))
    known = {"capture": frame, "stick": msg("50 ms at the stick")}
    known |= {role: watch.notices for role, watch in WATCHES.items()}
    return all_of(known.get(source) or _one_reading(source) for source in terms.sources)


def _one_reading(source: str) -> Message:
    return msg("one reading of {probe}", probe=source.removeprefix("probe."))


def _spots_degc(course: Course, moved: Sequence[Moved]) -> dict[str, float]:
    """Return the mean temperature at each spot while the plug was moved."""
    by_spot = {}
    windows = [(movement.from_s, movement.to_s) for movement in moved]
    for name, wired in course.header.fixture.probes.items():
        t_s, degc = course.series(f"probe.{name}")
        chosen = inside(t_s, windows)
        if wired.unit == "degC" and chosen.any():
            by_spot[name] = round(float(degc[chosen].mean()), 1)
    return by_spot


def _never_loses_it(need: Requirement, terms: MovedTerms) -> Message:
    return counted(
        terms.repeats,
        "Moved {ways} once, {heat}, the port {port} never loses contact",
        "Moved {ways} {count} times, {heat}, the port {port} never loses contact",
        ways=counted(len(terms.movements), "one way", "{count} ways"),
        heat=heat_words(terms.heat),
        port=terms.port,
    )


def force_words(by: str, force_n: float | None) -> Message:
    """Say by what a plug is moved, and how hard."""
    if force_n is None:
        return msg("{by}, its force not measured", by=_by(by))
    return msg("{by}, about {force}", by=_by(by), force=Stated(force_n, "N"))


def _by(by: str) -> Said:
    return {"hand": msg("hand"), "servo": msg("servo")}.get(by, by)


def heat_words(heat: str) -> Said:
    """Return how warm the unit was as it is said."""
    return {"cold": msg("cold"), "hot": msg("hot")}.get(heat, heat)


NO_EPISODE_WHEN_MOVED = Rule(
    name="no episode when moved",
    terms=MovedTerms,
    judge=_judge,
    demands=_never_loses_it,
    reads=Counted(bound_words=rate),
    lacks=lacks.time,
    section=Section.HAND,
    bounds=Bounds.RATE,
    failures=FailureKind.MOVED,
)
