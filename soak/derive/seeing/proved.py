"""What a soak itself proves of its instruments: that they are at this unit, and react to it.

An instrument may be a device and still look at another unit, lie beside its spot, or answer without
switching anything. It is proved by what only this unit can have made it see: its picture, its
device, its 5 V or its current go and come with the unit's power; a spot warms when it is on; what
was written to a stick comes back.
"""

import bisect
import itertools
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.electric.power import ANSWER_SLACK_S, switched_by_hand
from soak.derive.spans import Span
from soak.frozen.wiring import ProbeWired, role_of
from soak.instruments import WATCHES
from soak.marks import CarriedFile, PowerChanged, QuestionAsked, fact_as
from soak.names import source_named
from soak.natures import NO_INSTRUMENT, nature_of
from soak.states import ALIVE, BLIND, GONE, GONE_WITHIN_S, SEEN, WENT, patient_start_limit_s
from soak.words import NOTHING_SAID, Amount, Message, all_of, counted, msg

WARMS_BY_K, WARMS_WITHIN_S = 1.0, 600.0
"""A probe at a spot must warm by so much so soon after power (common practice) ..."""
WARMS_SLOWLY_BY_K = 3.0
"""... or by so much within one run with power: no room does that in a night. Our own choice."""
_WATCHED_S = GONE_WITHIN_S / 2
"""What was watched for less after the power went need not have gone yet."""
ASKED_BEFORE_S = 900.0
"""A hand on the plug moves between question and answer, and is asked at most so long before. Our
own choice."""
ROOM_DEGC = (5.0, 45.0)
"""What a room with a bench in it has. Our own choice."""
OFF_SHARE = 0.1
"""A voltage, current or power below this share of its usual value with power on is gone. Our own
choice."""
_LEAST = {"V": 0.5, "A": 0.02, "W": 0.2}
"""What reads less with power on cannot be seen to go. Our own choice."""

_SEE_POWER = ("capture", *WATCHES, "probe")

Trace = Sequence[tuple[float, bool | None]]
"""Since when a source showed the unit on, or off, or could not see it, in order of time."""
Edge = tuple[bool, float, float]
"""Whether the power came or went, and the span in s within which it must be seen."""


def proved(course: Course, source: str) -> Message:
    """Say how a soak proved an instrument, in small letters; nothing if it did not."""
    prove = _BY_ROLE.get(role_of(source), _nothing)
    if not _is_one(course, source):
        return NOTHING_SAID
    return course.once(("proved", source), lambda: prove(course, source))


def _is_one(course: Course, source: str) -> bool:
    """Tell whether an instrument is one: a recording that seems to follow the power does not."""
    return nature_of(course.header.fixture, source) not in NO_INSTRUMENT


def follows_power(course: Course, source: str) -> int:
    """Return how often a source was seen to follow the unit's power; 0 if it rather did not."""
    trace = _trace(course, source)
    followed = 0
    missed = 0
    says_only_changes = role_of(source) != "probe"
    for comes, from_s, to_s in _edges(course):
        seen = _seen(trace, from_s, to_s)
        watched = to_s - from_s >= _WATCHED_S and (says_only_changes or len(seen) > 1)
        if (not comes, comes) in itertools.pairwise(seen):
            followed += 1
        elif watched and not comes and seen and all(seen):
            missed += 1
    return followed if followed > missed else 0


def _seen(trace: Trace, from_s: float, to_s: float) -> list[bool | None]:
    """Return what was shown within a span, beginning with what was shown when it began."""
    begins = bisect.bisect_right(trace, from_s, key=lambda one: one[0])
    ends = bisect.bisect_right(trace, to_s, key=lambda one: one[0])
    return [shows for _, shows in trace[max(0, begins - 1) : ends]]


def _edges(course: Course) -> list[Edge]:
    limit_s = patient_start_limit_s(course.header.model_sheet)
    asked_s = [mark.t_s for mark in course.marks(QuestionAsked.mark)]
    by_hand = switched_by_hand(course.header.fixture)

    def since_s(t_s: float) -> float:
        """Return from when on the power may have changed: with a hand since it was asked for."""
        asked = (
            [question_s for question_s in asked_s if t_s - ASKED_BEFORE_S <= question_s <= t_s]
            if by_hand
            else []
        )
        return asked[-1] if asked else t_s - ANSWER_SLACK_S

    edges: list[Edge] = []
    commanded = _commanded(course)
    for number, (on_s, off_s) in enumerate(commanded):
        later = commanded[number + 1][0] if number + 1 < len(commanded) else course.ends_s
        edges.append((True, since_s(on_s), min(on_s + limit_s, off_s)))
        if off_s < course.ends_s:
            edges.append((False, since_s(off_s), min(off_s + GONE_WITHIN_S, later)))
    return edges


def _commanded(course: Course) -> Sequence[Span]:
    """Return the spans with power that somebody switched: a unit fed all the time shows nothing."""
    pretended = "switch" in course.roles and not _is_one(course, "switch")
    return course.power if course.marks(PowerChanged.mark) and not pretended else ()


def _trace(course: Course, source: str) -> Trace:
    role = role_of(source)
    if role == "probe":
        return _levels(course, source)
    # Some cards deliver nothing at all while the unit is off.
    on, off = (ALIVE, WENT) if role == "capture" else ({SEEN}, {GONE})
    shows = {**dict.fromkeys(on, True), **dict.fromkeys(off, False), BLIND: None}
    return [
        (state.t_s, shows[state.state]) for state in course.states(source) if state.state in shows
    ]


def _probe(course: Course, source: str) -> ProbeWired | None:
    return course.header.fixture.probes.get(source.removeprefix("probe."))


def _levels(course: Course, source: str) -> Trace:
    """Return when a probe of volts, amperes or watts read a usual value, and when next to none."""
    t_s, value = course.series(source)
    entry = _probe(course, source)
    usual = float(np.quantile(value, 0.9)) if len(value) else 0.0
    if entry is None or usual < _LEAST.get(entry.unit, float("inf")):
        return ()
    clear = (value > usual / 2) | (value < OFF_SHARE * usual)
    return list(zip(t_s[clear].tolist(), (value[clear] > usual / 2).tolist(), strict=True))


def _followed(course: Course, source: str) -> Message:
    times = follows_power(course, source)
    return counted(
        times,
        "it followed the unit's power 1 time",
        "it followed the unit's power {count} times",
        none=NOTHING_SAID,
    )


def _of_capture(course: Course, source: str) -> Message:
    if len(course.series("clip.lost")[0]):
        return msg("it read the coded clip that the unit played")
    return _followed(course, source)


def _of_switch(course: Course, source: str) -> Message:
    """Say what saw the unit go and come with it: its own answer proves nothing."""
    hub = course.header.fixture.identity(source).hangs_up_on_the_bus
    others = [
        source
        for source in course.sources
        if role_of(source) in _SEE_POWER and _is_one(course, source)
    ]
    # A port that is commanded off hangs up on the bus whether or not its 5 V go.
    by = [
        other for other in others if not (hub and other == "link") and follows_power(course, other)
    ]
    by += [other for other in others if other not in by and _warmed(course, other)]
    if not by:
        return NOTHING_SAID
    return msg("the unit followed it, seen by {instruments}", instruments=all_of(_named(by)))


def _named(sources: Sequence[str]) -> list[Message]:
    return [source_named(source) for source in sources]


def _of_stick(course: Course, source: str) -> Message:
    _, damaged = course.series(f"transfer.{source}.damaged")
    if (damaged == 0).any() or any(
        fact_as(mark, CarriedFile).came for mark in course.marks(CarriedFile.mark)
    ):
        return msg("what was written to it came back")
    return NOTHING_SAID


def _of_probe(course: Course, source: str) -> Message:
    entry = _probe(course, source)
    if entry is None or entry.unit != "degC":
        return _followed(course, source)
    if entry.spot == "ambient":
        return _reads_a_room(course, source)
    rise_k = _warmed(course, source)
    if not rise_k:
        return NOTHING_SAID
    return msg("it warmed by {rise} with the unit on", rise=Amount(rise_k, "K"))


def _warmed(course: Course, source: str) -> float:
    """Return by how many K a probe at a spot warmed with the unit on; 0 if not by enough."""
    entry = _probe(course, source)
    if entry is None or entry.unit != "degC" or entry.spot in ("", "ambient"):
        return 0.0
    t_s, value = course.series(source)
    for on_s, off_s in _commanded(course):
        inside = value[(t_s >= on_s) & (t_s <= off_s)]
        soon = value[(t_s >= on_s) & (t_s <= min(off_s, on_s + WARMS_WITHIN_S))]
        for part, by_k in ((soon, WARMS_BY_K), (inside, WARMS_SLOWLY_BY_K)):
            if len(part) and float(part.max() - part[0]) >= by_k:
                return float(part.max() - part[0])
    return 0.0


def _reads_a_room(course: Course, source: str) -> Message:
    _, value = course.series(source)
    if not len(value) or not ROOM_DEGC[0] <= float(np.median(value)) <= ROOM_DEGC[1]:
        return NOTHING_SAID
    return msg("it read {value}, as a room has", value=Amount(float(np.median(value)), "degC"))


def _nothing(course: Course, source: str) -> Message:
    return NOTHING_SAID


_BY_ROLE: Mapping[str, Callable[[Course, str], Message]] = {
    "switch": _of_switch,
    "capture": _of_capture,
    **dict.fromkeys(WATCHES, _followed),
    "stick": _of_stick,
    "probe": _of_probe,
}
"""How an instrument of a role is proved; of the others nothing is claimed."""
