"""When the unit had power, from what the switch answered."""

from collections.abc import Sequence

from soak.derive.spans import Span, minus
from soak.records import Json, Mark

ANSWER_SLACK_S = 1.0
"""A relay opens before its board answers: what is lost so shortly before an off is not charged."""


def power_windows(
    marks: Sequence[Mark], fixture: Json, sessions: Sequence[Span], ends_s: float
) -> list[Span]:
    """Return the spans with power.

    A trip or a silence cuts the power. Nobody knows the power between two sessions, and the
    next one begins with off. Without a switch the unit is fed all the time.

    Parameters
    ----------
    marks : sequence of Mark
        All marks, in order of time.
    sessions : sequence of (float, float)
        Begin and end of each session.
    """
    channel = fixture.get("switch", {}).get("channel")
    commands = [mark for mark in marks if _concerns_power(mark, channel)]
    if not commands and not fixture.get("switch"):
        return list(sessions)
    windows: list[Span] = []
    for begins_s, until_s in sessions:
        on_s: float | None = None
        for mark in commands:
            if not begins_s <= mark.t_s <= until_s:
                continue
            on = mark.what == "power" and bool(mark.detail.get("on"))
            if on and on_s is None:
                on_s = mark.t_s
            elif not on and on_s is not None:
                windows.append((on_s, mark.t_s))
                on_s = None
        if on_s is not None:
            windows.append((on_s, min(until_s, ends_s)))
    return [window for window in windows if window[1] > window[0]]


def awake_windows(
    windows: Sequence[Span],
    marks: Sequence[Mark],
    shown: Sequence[Span],
    sheet: Json,
    fixture: Json,
) -> list[Span]:
    """Return the spans in which the unit is meant to run: with power, and not pressed off.

    Parameters
    ----------
    windows : sequence of (float, float)
        Spans with power.
    shown : sequence of (float, float)
        When the capture saw a picture: a unit that stays off without a press ran all the same.
    """
    presses = [mark for mark in marks if mark.what == "button"]
    told = sheet.get("button") or {}
    stays_off = bool(told.get("stays_off") and fixture.get("button") and fixture.get("switch"))
    if not presses and not stays_off:
        return list(windows)
    found = []
    for on_s, off_s in windows:
        signs = [(_pressed_s(mark), str(mark.detail["does"])) for mark in presses]
        signs += [(max(s, on_s), "start") for s, to_s in shown if s < off_s and to_s > on_s]
        begins_s = None if stays_off else on_s
        for at_s, does in sorted(sign for sign in signs if on_s <= sign[0] <= off_s):
            if does == "stop":
                if begins_s is not None:
                    found.append((begins_s, at_s))
                begins_s = None
                break  # the power is cut next, whether it went off or not
            begins_s = at_s if begins_s is None else begins_s
        if begins_s is not None:
            found.append((begins_s, off_s))
    return [window for window in found if window[1] > window[0]]


def _pressed_s(mark: Mark) -> float:
    """Return when the button was pressed; of a start that is in doubt, when it surely had been."""
    doubtful = mark.detail.get("doubtful") and mark.detail["does"] == "start"
    return mark.t_s if doubtful else float(mark.detail["from_s"])


def _concerns_power(mark: Mark, channel: object) -> bool:
    if mark.what in ("trip", "silence"):
        return True
    return mark.what == "power" and mark.detail.get("channel", channel) in (channel, None, "")


def charged_until_s(off_s: float, marks: Sequence[Mark], fixture: Json) -> float:
    """Return until when before an off a loss is still charged to the unit.

    With a switch worked by hand the plug is out long before the operator says so: then nothing
    is charged from the question on.
    """
    if "hand" in str(fixture.get("switch", {}).get("driver", "")):
        questions = [m for m in marks if m.what == "question" and m.t_s <= off_s]
        own = [m for m in questions if str(m.detail.get("id", "")).startswith("switch.")]
        asked = [mark.t_s for mark in own or questions]
        if asked:
            return min(asked[-1], off_s - ANSWER_SLACK_S)
    return off_s - ANSWER_SLACK_S


def unpowered(windows: Sequence[Span], begin_s: float, ends_s: float) -> list[Span]:
    """Return the spans without power between `begin_s` and `ends_s`."""
    return minus([(begin_s, ends_s)], windows)
