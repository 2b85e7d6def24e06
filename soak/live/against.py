"""What speaks against the unit so far: for the operator's screen, never a grade."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from soak.checks.reseat import Reseat
from soak.derive.faults import lost_by
from soak.marks import start_called
from soak.records import Header, Mark, Observed, Reading, State
from soak.states import PICTURE, usual_start_s

_SAID_OF_MARKS = {
    "trip": "the guard tripped",
    "off not proved": "off could not be proved",
    "alarm": "an alarm",
}
_SAID_OF_LOSSES = {
    "capture": "the picture was lost ({state})",
    "stick": "the stick went from its port",
    "link": "the device left its port",
}


@dataclass(slots=True)
class Against:
    """Gather what an operator would want to know at once.

    What is a loss the judgement's own functions say. Only a preview all the same: the judgement may
    find that a hole or a mark of the operator explains it.
    """

    header: Header
    said: list[tuple[float, str]] = field(default_factory=list)
    _lost: Mapping[str, frozenset[str]] = field(init=False)
    _on_s: float = math.inf
    _runs_from_s: float = math.inf
    _hand_at_plug: bool = False

    def __post_init__(self) -> None:
        self._lost = lost_by(self.header)

    def notice(self, record: Observed) -> str:
        """Take a record; return what it says against the unit, or an empty text."""
        text = self._text(record)
        if text:
            self.said.append((record.t_s, text))
        return text

    def _text(self, record: Observed) -> str:
        if isinstance(record, Mark):
            return self._mark(record)
        if isinstance(record, State):
            return self._state(record)
        if isinstance(record, Reading) and record.quantity.endswith(".damaged") and record.value:
            return f"{record.value:.0f} wrong bytes"
        return ""

    def _mark(self, mark: Mark) -> str:
        if mark.what == "power":
            self._on_s = mark.t_s if mark.detail["on"] else math.inf
            self._runs_from_s = math.inf
            if not self.header.fixture.get("capture"):  # nothing sees it start
                self._runs_from_s = self._on_s + usual_start_s(self.header.model_sheet)
        if mark.what == "button" and mark.detail["does"] == "stop":
            self._runs_from_s = math.inf
        if mark.what == "question" and mark.check == Reseat.name:
            self._hand_at_plug = True
        elif mark.what in ("plugged in", "stretch ends"):
            self._hand_at_plug = False
        if mark.what == "soft stop" and mark.detail["ended"] is False:
            return "it did not go off by its button; its power is cut"
        if mark.what == "start ended" and not mark.detail["seen"]:
            told = mark.detail
            return f"{start_called(told['kind'], told['number'], mark.check)} showed no picture"
        if mark.detail.get("waits") or mark.detail.get("by") == "nothing":
            return ""  # the bench's: a switch that may answer yet, and no instrument that looks
        return _SAID_OF_MARKS.get(mark.what, "")

    def _state(self, state: State) -> str:
        if state.source == "capture" and state.state == PICTURE and self._on_s <= state.t_s:
            # Many units show a maker's sign first, and go black once more before they are up.
            up_s = self._on_s + float(self.header.model_sheet.get("start_s") or 0.0)
            self._runs_from_s = min(self._runs_from_s, max(state.t_s, up_s))
        elif self._runs_from_s <= state.t_s and not self._hand_at_plug and self._is_lost(state):
            return _SAID_OF_LOSSES[state.source].format(state=state.state)
        return ""

    def _is_lost(self, state: State) -> bool:
        return state.state in self._lost.get(state.source, ())
