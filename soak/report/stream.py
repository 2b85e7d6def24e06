"""What a capture delivered in a soak: rate, pictures lost and repeated, how long one stood."""

from collections import Counter
from collections.abc import Sequence

from soak.derive.course import Course
from soak.marks import COUNTED
from soak.measure.video.accounts import nominal_rate
from soak.records import State
from soak.words import NOTHING_SAID, Amount, Message, Number, joined, msg

_COUNTED = ("pictures", "lost", "repeated", "damaged")


def stream_words(course: Course) -> Message:
    """Return the frame accounts as the last of each minute tells them; empty without a stream."""
    told = [one for one in course.states("capture.stream") if one.state == COUNTED]
    parts = [_rate(told[-1]), *_counted(told)] if told else []
    stood_s = course.series("capture.unchanged")[1]
    if len(stood_s):
        stood = Amount(float(max(stood_s)), "s")
        parts.append(msg("unchanged for up to {time}", time=stood))
    return joined(", ", parts)


def _rate(told: State) -> Message:
    period_s = float(told.detail.get("period_s", 0.0))
    if period_s <= 0:
        return NOTHING_SAID
    rate, nominal = Number(1 / period_s, ".3f"), nominal_rate(1 / period_s)
    if nominal is None or nominal.denominator == 1:
        return msg("{rate} pictures a second", rate=rate)
    return msg("{rate} ({exact}) pictures a second", rate=rate, exact=str(nominal))


def _counted(told: Sequence[State]) -> list[Message]:
    """Add up over the runs of the watcher: one that began anew counts from 0."""
    total: Counter[str] = Counter()
    before: Counter[str] = Counter()
    for state in told:
        now = Counter({name: int(state.detail.get(name, 0)) for name in _COUNTED})
        if now["pictures"] < before["pictures"]:
            before = Counter()
        total.update({name: now[name] - before[name] for name in _COUNTED})
        before = now
    lost, repeated, damaged = (total[name] for name in _COUNTED[1:])
    return [
        msg("{lost} lost of {all}", lost=lost, all=total["pictures"] + lost),
        msg("{number} repeated exactly", number=repeated),
        msg("{number} damaged", number=damaged),
    ]
