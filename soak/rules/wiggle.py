"""Whether a port keeps contact while its plug is moved, and which way it does not."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import ceil
from typing import Any

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import link_faults, stick_faults, terms_of, wrong_data
from soak.derive.spans import Span, common, inside, merged, minus, total_s
from soak.quantities import show_duration
from soak.records import Json, Mark, Requirement
from soak.rules.core.finding import Value, conclude, counted, not_shown, not_tested, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.statistics import bounds as statistics
from soak.statistics.compare import chance_by_luck, compare_rates, quiet_needed

_LUCK = 0.05
"""So likely may quiet be by luck before more rounds are advised; as for a fault that is gone."""

RULE = "no episode when moved"

_REST = "rest"
_ROUNDING_S = 0.5
_SEEN_SHARE = 0.9
"""A movement seen for less than this share of its time counts for nothing. Our own choice."""

_SMALLEST = {"link": "50 ms at the link", "stick": "50 ms at the stick"}
"""USB notices a leaving within about 50 ms: common practice."""

_METHOD = (
    "Episodes counted; bounds of the rate per hour of moving after NIST/SEMATECH e-Handbook "
    "8.4.5.1; moving against rest: exact conditional test of two Poisson counts, one-sided "
    "(Przyborowski & Wilenski 1940)"
)


@dataclass(frozen=True, slots=True)
class Moved:
    """One movement, or the rest: `seen_s` of it were watched; `events` began in it."""

    movement: str
    repeat: int
    from_s: float
    to_s: float
    seen_s: float
    events: tuple[tuple[float, float, str], ...]


@dataclass(slots=True)
class _Tally:
    """What was found over all soaks."""

    moved: list[Moved] = field(default_factory=list)
    pointers: list[Pointer] = field(default_factory=list)

    def of(self, rest: bool) -> list[Moved]:
        """Return the rests, or the movements."""
        return [one for one in self.moved if (one.movement == _REST) == rest]

    def number(self, rest: bool) -> int:
        """Count the episodes."""
        return sum(len(one.events) for one in self.of(rest))

    def seen_s(self, rest: bool) -> float:
        """Sum up the time watched, s."""
        return sum(one.seen_s for one in self.of(rest))


@rule(RULE)
def no_episode_when_moved(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no episode began while the plug was moved, over all soaks; rest must be clean."""
    params = requirement.params
    if not params.get("sources"):
        return not_tested(requirement, f"nothing watches the port {params.get('port', '')}")
    tally, covered = _Tally(), []
    for course in soaks:
        tally.moved += movements(requirement, course)
        covered.append(coverage(course, requirement, _unseen(requirement, course)))
    tally.pointers = _pointers(requirement, soaks)
    number, resting = tally.number(False), tally.number(True)
    moved_s, rest_s = tally.seen_s(False), tally.seen_s(True)
    detail = _detail(requirement, soaks, tally)
    if not tally.moved:
        return not_shown(requirement, "nobody moved the plug", detail=detail)
    low, high = _bounds(requirement, number, moved_s)
    found = Value(number, low, high, (requirement.limit or 0.0) - number, _METHOD)
    if resting:
        because = (
            f"It loses it even at rest: {counted(resting, 'episode')} in "
            f"{show_duration(rest_s)} with hands off."
        )
        return conclude(requirement, Verdict.NOT_MET, because, found, tally.pointers, detail)
    if number:
        because = _against(tally, number, moved_s, rest_s)
        return conclude(requirement, Verdict.NOT_MET, because, found, tally.pointers, detail)
    lacking = _lacking(requirement, tally, rest_s)
    if lacking:
        return not_shown(requirement, lacking, found, (), detail)
    because = (
        f"No episode in {len(tally.of(False))} movements of {show_duration(moved_s)} together: "
        f"fewer than {high:.3g} an hour of moving at {requirement.confidence or 0.95:.0%} "
        f"confidence. Shorter breaks than {detail['smallest_break']} are not seen."
        f"{_before(detail)}"
    )
    return settle(requirement, True, because, found, covered, (), detail)


def movements(requirement: Requirement, course: Course) -> list[Moved]:
    """Return the movements of one soak, with the rest, and what began in each."""
    events, unseen = _events(requirement, course), _unseen(requirement, course)
    if requirement.params.get("moved_by") == "servo":  # where it was lost nothing was moved
        unseen = merged([*unseen, *course.blind("servo")])
    pause_s = float(requirement.params.get("pause_s", 0.0))
    ends, begins = _own(requirement, course, "ends"), _own(requirement, course, "begins")
    found = []
    for number, mark in enumerate(begins):
        next_s = begins[number + 1].t_s if number + 1 < len(begins) else course.ends_s
        to_s = next((e.t_s for e in ends if mark.t_s <= e.t_s <= next_s), next_s)
        # What the hand does last may show only as it lets go: the pause belongs to the movement.
        until_s = min(next_s, to_s + pause_s)
        seen_s = total_s(minus(common([(mark.t_s, to_s)], course.started), unseen))
        mine = tuple(event for event in events if mark.t_s <= event[0] < until_s)
        name, repeat = str(mark.detail["movement"]), int(mark.detail["repeat"])
        found.append(Moved(name, repeat, mark.t_s, to_s, seen_s, mine))
    return found


def _own(requirement: Requirement, course: Course, which: str) -> list[Mark]:
    port = requirement.params.get("port")
    return [
        mark
        for mark in course.marks(f"movement {which}")
        if mark.stretch == requirement.stretch and mark.detail.get("port") == port
    ]


def _events(requirement: Requirement, course: Course) -> list[tuple[float, float, str]]:
    """Return what befell the port, whatever saw it; what lies close together is one episode."""
    found = [
        *_lost(requirement, course),
        *_fell(course, requirement),
        *_drained(course, requirement),
    ]
    gap_s = float(requirement.params.get("episode_gap_s", 2.0))
    episodes: list[tuple[float, float, str]] = []
    for from_s, to_s, text in sorted(found):
        if episodes and from_s - episodes[-1][1] <= gap_s:
            before = episodes[-1]
            also = before[2] if text in before[2] else f"{before[2]}; {text}"
            episodes[-1] = (before[0], max(before[1], to_s), also)
        else:
            episodes.append((from_s, to_s, text))
    return episodes


def _lost(requirement: Requirement, course: Course) -> list[tuple[float, float, str]]:
    sources, found = requirement.params["sources"], []
    if "capture" in sources:
        terms = terms_of(requirement, course.header)
        for one in course.episodes("capture", terms.bad, terms.gap_s, terms.usual_start_s):
            what = {"dropout": "picture lost", "restart": "restarted", "hang": "hung"}[one.kind]
            found.append((one.from_s, one.to_s, f"{what} ({one.dropouts[0].state})"))
    if "link" in sources:
        found += [(one.from_s, one.to_s, one.kind) for one in link_faults(course)]
    if "stick" in sources:
        both = [*stick_faults(course), *wrong_data(course)]
        found += [(one.from_s, one.to_s, one.kind) for one in both]
    return found


def _fell(course: Course, requirement: Requirement) -> list[tuple[float, float, str]]:
    """Return when the link came down to a lower speed."""
    if "link" not in requirement.params["sources"]:
        return []
    t_s, mbps = course.series("link.speed")
    down = np.flatnonzero(np.diff(mbps) < 0) + 1
    return [(float(t_s[at]), float(t_s[at]), f"link fell to {mbps[at]:g} Mb/s") for at in down]


def _drained(course: Course, requirement: Requirement) -> list[tuple[float, float, str]]:
    """Return when a supply current fell below half of its median in the stretch.

    Half as for the voltage of a contact under test: IEC 60512-2-5.
    """
    found = []
    windows = common(course.windows(requirement.stretch), course.started)
    for source in requirement.params["sources"]:
        if source.startswith("probe."):
            t_s, ampere = course.series(source)
            chosen = inside(t_s, windows)
            if chosen.any():
                half = float(np.median(ampere[chosen])) / 2
                low = np.flatnonzero(chosen & (ampere < half))
                found += [(float(t_s[at]), float(t_s[at]), "current fell") for at in low]
    return found


def _unseen(requirement: Requirement, course: Course) -> list[Span]:
    bad = {"capture": terms_of(requirement, course.header).bad}
    gone = frozenset({"gone"})
    return merged(
        [
            span
            for source in requirement.params["sources"]
            for span in course.unseen(source, bad.get(source, gone))
        ]
    )


def _pointers(requirement: Requirement, soaks: Sequence[Course]) -> list[Pointer]:
    return [
        Pointer(course.header.soak_id, from_s, to_s, f"{one.movement} ({one.repeat}): {text}")
        for course in soaks
        for one in movements(requirement, course)
        for from_s, to_s, text in one.events
    ]


def _bounds(
    requirement: Requirement, number: int, moved_s: float
) -> tuple[float | None, float | None]:
    if moved_s <= 0:
        return None, None
    return statistics.rate(number, moved_s / 3600, requirement.confidence or 0.95)


def _against(tally: _Tally, number: int, moved_s: float, rest_s: float) -> str:
    """Say how often, which way, and what rest says to it."""
    by = Counter({m: n for m, n in _by_movement(tally).items() if n})
    ways = ", ".join(f"{movement} {count}" for movement, count in by.most_common())
    because = f"{counted(number, 'episode')} in {show_duration(moved_s)} of moving ({ways})"
    if moved_s <= 0 or rest_s <= 0:
        return f"{because}."
    compared = compare_rates(0, rest_s, number, moved_s)
    return (
        f"{because}, none in {show_duration(rest_s)} of rest; were moving no matter, so quiet a "
        f"rest would come with a chance of {compared.fewer:.2g}."
    )


def _lacking(requirement: Requirement, tally: _Tally, rest_s: float) -> str:
    """Say what is missing of what was promised; empty if nothing is."""
    params = requirement.params
    dwell_s, promised_s = float(params["dwell_s"]), float(params["rest_s"])
    good = [one for one in tally.of(False) if one.seen_s >= _SEEN_SHARE * dwell_s - _ROUNDING_S]
    wanted = int(params["repeats"])
    done = Counter(one.movement for one in good)
    lacking = [name for name in params["movements"] if done[name] < wanted]
    if rest_s < _SEEN_SHARE * promised_s - _ROUNDING_S:
        return f"only {show_duration(rest_s)} of {show_duration(promised_s)} of rest were watched"
    if lacking:
        made, of = sum(min(n, wanted) for n in done.values()), wanted * len(params["movements"])
        return f"only {made} of {of} movements were watched; missing: {', '.join(lacking)}"
    return ""


def _by_movement(tally: _Tally) -> dict[str, int]:
    found: dict[str, int] = {}
    for one in tally.moved:
        found[one.movement] = found.get(one.movement, 0) + len(one.events)
    return found


def _detail(requirement: Requirement, soaks: Sequence[Course], tally: _Tally) -> Json:
    lengths = [to_s - from_s for one in tally.moved for from_s, to_s, _ in one.events]
    moved_s, rest_s = tally.seen_s(False), tally.seen_s(True)
    detail: dict[str, Any] = {
        "by_movement": _by_movement(tally),
        "longest_s": round(max(lengths, default=0.0), 4),
        "moved_s": round(moved_s, 3),
        "rest_s": round(rest_s, 3),
        "force": requirement.params.get("force", ""),
        "heat": requirement.params.get("heat", ""),
        "smallest_break": _smallest(requirement, soaks[-1]),
        "spots_degc": _spots_degc(requirement, soaks),
    }
    if moved_s > 0 and rest_s > 0:
        compared = compare_rates(tally.number(True), rest_s, tally.number(False), moved_s)
        detail["rest_against_moving"] = {"chance": compared.fewer, "method": compared.method}
    return {**detail, **_seen_before(requirement, soaks[-1], moved_s)}


def _seen_before(requirement: Requirement, newest: Course, moved_s: float) -> Json:
    """Return how likely the quiet is by luck, from how often moving found it before the repair."""
    before = newest.header.references.get("seen_before") or {}
    heat, moved = requirement.params.get("heat"), before.get("moved") or ()
    own = next((one for one in moved if one["heat"] == heat), {"events": 0, "hours": 0.0})
    events, hours = int(own["events"]), float(own["hours"])
    if before.get("port") != requirement.params.get("port") or not events or hours <= 0:
        return {}
    chance = chance_by_luck(events, hours, moved_s / 3600)
    lacking_s = max(0.0, 3600 * quiet_needed(events, hours, _LUCK) - moved_s)
    round_s = len(requirement.params["movements"]) * float(requirement.params["dwell_s"])
    rounds = ceil(lacking_s / round_s)
    return {"before": {**own, "quiet_by_luck": chance, "more_rounds": rounds}}


def _before(detail: Json) -> str:
    before = detail.get("before")
    if not before:
        return ""
    rounds = before["more_rounds"]
    more = f"; {counted(rounds, 'more round')} would bring it to {_LUCK:.0%}" if rounds else ""
    return (
        f" Before the repair: {counted(before['events'], 'episode')} in "
        f"{show_duration(before['hours'] * 3600)} of moving; were it still there, the chance of "
        f"this is {before['quiet_by_luck']:.1%}{more}."
    )


def _smallest(requirement: Requirement, course: Course) -> str:
    """Return the smallest break that this bench can see, in words."""
    found = []
    for source in requirement.params["sources"]:
        if source == "capture":
            rate_hz = course.header.fixture["capture"].get("identity", {}).get("rate_hz")
            found.append(f"one frame ({1000 / rate_hz:.0f} ms)" if rate_hz else "one frame")
        elif source in _SMALLEST:
            found.append(_SMALLEST[source])
        else:
            found.append(f"one reading of {source.removeprefix('probe.')}")
    return " and ".join(found)


def _spots_degc(requirement: Requirement, soaks: Sequence[Course]) -> dict[str, float]:
    """Return the mean temperature at each spot while the plug was moved, in the newest soak."""
    course, found = soaks[-1], {}
    windows = [(one.from_s, one.to_s) for one in movements(requirement, course)]
    for name, wired in course.header.fixture.get("probe", {}).items():
        t_s, degc = course.series(f"probe.{name}")
        chosen = inside(t_s, windows)
        if wired.get("unit", "degC") == "degC" and chosen.any():
            found[name] = round(float(degc[chosen].mean()), 1)
    return found
