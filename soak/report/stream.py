"""What a capture delivered in a soak: rate, pictures lost and repeated, how long one stood."""

from collections import Counter
from collections.abc import Sequence

from soak.derive.course import Course
from soak.measure.accounts import nominal_rate
from soak.quantities import show_duration
from soak.records import State

_COUNTED = ("pictures", "lost", "repeated", "damaged")


def stream_words(course: Course) -> str:
    """Return the frame accounts as the last of each minute tells them; empty without a stream."""
    told = [one for one in course.states("capture.stream") if one.state == "learned"]
    parts = [_rate(told[-1]), _counted(told)] if told else []
    stood_s = course.series("capture.unchanged")[1]
    if len(stood_s):
        parts.append(f"unchanged for up to {show_duration(float(max(stood_s)))}")
    return ", ".join(part for part in parts if part)


def _rate(told: State) -> str:
    period_s = float(told.detail.get("period_s", 0.0))
    if period_s <= 0:
        return ""
    nominal = nominal_rate(1 / period_s)
    exact = f" ({nominal})" if nominal is not None and nominal.denominator > 1 else ""
    return f"{1 / period_s:.3f}{exact} pictures a second"


def _counted(told: Sequence[State]) -> str:
    """Add up over the runs of the watcher: one that began anew counts from 0."""
    total: Counter[str] = Counter()
    before: Counter[str] = Counter()
    for state in told:
        now = Counter({name: int(state.detail.get(name, 0)) for name in _COUNTED})
        if now["pictures"] < before["pictures"]:
            before = Counter()
        total.update({name: now[name] - before[name] for name in _COUNTED})
        before = now
    words = f"{total['lost']} lost of {total['pictures'] + total['lost']}"
    return f"{words}, {total['repeated']} repeated exactly, {total['damaged']} damaged"
