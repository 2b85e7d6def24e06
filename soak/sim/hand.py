"""The simulated hand: it moves the simulated plug and switches on, when it is told to."""

from collections.abc import Callable

from soak.marks import SWITCH_ON
from soak.records import Mark, Observed
from soak.sim.unit import SimulatedUnit

_HANDS_OFF, _SERVO = "rest", "servo"


def hand_of(unit: SimulatedUnit) -> Callable[[Observed], None]:
    """Return a listener that obeys the cues and demands of a soak with this unit."""

    def heed(record: Observed) -> None:
        if not isinstance(record, Mark):
            return
        if record.what == "question" and record.detail["id"] == SWITCH_ON:
            unit.power(record.t_s, True)
        if record.what != "movement begins":
            return
        told = record.detail
        if told["movement"] != _HANDS_OFF and told.get("by") != _SERVO:
            lasts_s, movement = float(told["lasts_s"]), str(told["movement"])
            unit.move_plug(str(told["port"]), record.t_s, lasts_s, movement)

    return heed
