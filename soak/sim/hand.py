"""The simulated hand: it moves the simulated plug and switches on, when it is told to."""

from collections.abc import Callable

from soak.marks import SWITCH_ON, MovementBegins, QuestionAsked, fact_of
from soak.records import Mark, Observed
from soak.sim.unit import SimulatedUnit

_HANDS_OFF = "rest"
_SERVO = "servo"


def hand_of(unit: SimulatedUnit) -> Callable[[Observed], None]:
    """Return a listener that obeys the cues and demands of a soak with this unit."""

    def heed(record: Observed) -> None:
        if not isinstance(record, Mark):
            return
        match fact_of(record):
            case QuestionAsked(id=question) if question == SWITCH_ON:
                unit.power(record.t_s, True)
            case MovementBegins() as moved if moved.movement != _HANDS_OFF and moved.by != _SERVO:
                unit.move_plug(moved.port, record.t_s, moved.lasts_s, moved.movement)

    return heed
