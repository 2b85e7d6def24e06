"""What speaks against the unit so far: for the operator's screen, never a grade."""

from dataclasses import dataclass, field

from soak.marks import start_called
from soak.records import Mark, Observed, Reading, State

_BAD = frozenset({"black", "no signal", "frozen", "stalled", "other size"})
_SAID_OF_MARKS = {
    "trip": "the guard tripped",
    "off not proved": "off could not be proved",
    "alarm": "an alarm",
}


@dataclass(slots=True)
class Against:
    """Gather what an operator would want to know at once.

    Only a preview: the judgement may find that a hole or a mark of the operator explains it.
    """

    said: list[tuple[float, str]] = field(default_factory=list)
    _on: bool = False
    _started: bool = False

    def notice(self, record: Observed) -> str:
        """Take a record; return what it says against the unit, or an empty text."""
        text = self._text(record)
        if text:
            self.said.append((record.t_s, text))
        return text

    def _text(self, record: Observed) -> str:
        if isinstance(record, Mark):
            return self._mark(record)
        if isinstance(record, State) and record.source == "capture":
            return self._picture(record)
        if isinstance(record, Reading) and record.quantity.endswith(".damaged") and record.value:
            return f"{record.value:.0f} wrong bytes"
        return ""

    def _mark(self, mark: Mark) -> str:
        if mark.what == "power":
            self._on, self._started = bool(mark.detail["on"]), False
        if mark.what == "button" and mark.detail["does"] == "stop":
            self._started = False
        if mark.what == "soft stop" and mark.detail["ended"] is False:
            return "it did not go off by its button; its power is cut"
        if mark.what == "start ended" and not mark.detail["seen"]:
            told = mark.detail
            return f"{start_called(told['kind'], told['number'], mark.check)} showed no picture"
        return _SAID_OF_MARKS.get(mark.what, "")

    def _picture(self, state: State) -> str:
        if state.state == "picture":
            self._started = self._started or self._on
        elif state.state in _BAD and self._on and self._started:
            return f"the picture was lost ({state.state})"
        return ""
