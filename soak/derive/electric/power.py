"""When the unit had power, from what the switch answered, or the person who is the switch."""

from collections.abc import Sequence

from soak.derive.spans import Span, minus
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.marks import (
    SWITCH_ON,
    Answered,
    ButtonPressed,
    FellSilent,
    PowerChanged,
    QuestionAsked,
    Tripped,
    fact_in,
    fact_of,
    facts_in,
)
from soak.records import Mark
from soak.roles import Question
from soak.words import NOTHING_SAID

ANSWER_SLACK_S = 1.0
"""A relay opens before its board answers: what is lost so shortly before an off is not charged. Our
own choice."""


def power_windows(
    marks: Sequence[Mark], fixture: Fixture, sessions: Sequence[Span], ends_s: float
) -> list[Span]:
    """Return the spans with power.

    A trip or a silence cuts the power. Nobody knows the power between two sessions, and the
    next one begins with off. Without a switch the unit has power once somebody has confirmed it.

    Parameters
    ----------
    marks : sequence of Mark
        All marks, in order of time.
    sessions : sequence of (float, float)
        Begin and end of each session.
    """
    channel = None if fixture.switch is None else fixture.switch.channel
    unsaid = _unsaid(marks)
    commands = [mark for mark in marks if _concerns_power(mark, channel) and mark not in unsaid]
    windows: list[Span] = []
    for begins_s, until_s in sessions:
        on_s: float | None = None
        for mark in commands:
            if not begins_s <= mark.t_s <= until_s:
                continue
            power = fact_in(mark, PowerChanged)
            on = power is not None and power.on
            if on and on_s is None:
                on_s = mark.t_s
            elif not on and on_s is not None:
                windows.append((on_s, mark.t_s))
                on_s = None
        if on_s is not None:
            windows.append((on_s, min(until_s, ends_s)))
    return [window for window in windows if window[1] > window[0]]


def switched_by_hand(fixture: Fixture) -> bool:
    """Tell whether a person is the switch, so that on and off are a person's word."""
    return fixture.switch is None or fixture.switch.by_hand


def unconfirmed(windows: Sequence[Span], fixture: Fixture, sessions: Sequence[Span]) -> list[Span]:
    """Return when nobody had confirmed yet, in each session, that the unit is on.

    A switch that answers has switched it off before; where a person is the switch, nobody knows.
    What was carried by hand the unit did before and elsewhere: then nobody asks.

    Parameters
    ----------
    windows : sequence of (float, float)
        Spans with power.
    """
    carried = fixture.roles == {"stick"} and fixture.stick_path == "carried"
    if carried or not switched_by_hand(fixture):
        return []
    firsts = [
        (begins_s, next((on_s for on_s, _ in windows if begins_s <= on_s <= until_s), until_s))
        for begins_s, until_s in sessions
    ]
    return [span for span in firsts if span[1] > span[0]]


def _unsaid(marks: Sequence[Mark]) -> list[Mark]:
    """Return the marks of power on that follow an unanswered question: nobody confirmed them."""
    asked = Question(SWITCH_ON, NOTHING_SAID, "done")
    unsaid = list[Mark]()
    agreed = True
    for mark in marks:
        match fact_of(mark):
            case Answered(id=question, answer=answer) if question == SWITCH_ON:
                agreed = asked.agreed(answer)
            case PowerChanged(on=True) if not agreed:
                unsaid.append(mark)
    return unsaid


def awake_windows(
    windows: Sequence[Span],
    marks: Sequence[Mark],
    shown: Sequence[Span],
    sheet: ModelSheet,
    fixture: Fixture,
) -> list[Span]:
    """Return the spans in which the unit is meant to run: with power, and not pressed off.

    Parameters
    ----------
    windows : sequence of (float, float)
        Spans with power.
    shown : sequence of (float, float)
        When the capture saw a picture: a unit that stays off without a press ran all the same.
    """
    presses = [*facts_in(marks, ButtonPressed)]
    stays_off = bool(sheet.button and sheet.button.stays_off and fixture.button and fixture.switch)
    if not presses and not stays_off:
        return list(windows)
    awake = []
    for on_s, off_s in windows:
        signs = [(_pressed_s(mark, pressed), pressed.does) for mark, pressed in presses]
        signs += [(max(s, on_s), "start") for s, to_s in shown if s < off_s and to_s > on_s]
        begins_s = None if stays_off else on_s
        for at_s, does in sorted(sign for sign in signs if on_s <= sign[0] <= off_s):
            if does == "stop":
                if begins_s is not None:
                    awake.append((begins_s, at_s))
                begins_s = None
                break  # the power is cut next, whether it went off or not
            begins_s = at_s if begins_s is None else begins_s
        if begins_s is not None:
            awake.append((begins_s, off_s))
    return [window for window in awake if window[1] > window[0]]


def _pressed_s(mark: Mark, pressed: ButtonPressed) -> float:
    """Return when the button was pressed; of a start that is in doubt, when it surely had been."""
    return mark.t_s if pressed.doubtful and pressed.does == "start" else pressed.from_s


def _concerns_power(mark: Mark, channel: object) -> bool:
    match fact_of(mark):
        case Tripped() | FellSilent():
            return True
        case PowerChanged(channel=of):
            return of in (channel, None, "")
    return False


def charged_until_s(off_s: float, marks: Sequence[Mark], fixture: Fixture) -> float:
    """Return until when before an off a loss is still charged to the unit.

    With a switch worked by hand the plug is out long before the operator says so: then nothing
    is charged from the question on.
    """
    if fixture.switch and switched_by_hand(fixture):
        questions = [
            question for question in facts_in(marks, QuestionAsked) if question[0].t_s <= off_s
        ]
        own = [question for question in questions if question[1].id.startswith("switch.")]
        asked = [mark.t_s for mark, _ in own or questions]
        if asked:
            return min(asked[-1], off_s - ANSWER_SLACK_S)
    return off_s - ANSWER_SLACK_S


def unpowered(windows: Sequence[Span], begin_s: float, ends_s: float) -> list[Span]:
    """Return the spans without power between `begin_s` and `ends_s`."""
    return minus([(begin_s, ends_s)], windows)
