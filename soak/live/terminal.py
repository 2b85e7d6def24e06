"""The terminal of a running soak: one line that keeps itself up to date, and what must be said."""

import sys
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, TextIO

from soak.derive.faults import UnitFault
from soak.live.against import Against, goes_on
from soak.quantities import show_duration, show_value
from soak.records import Mark, Observed, Reading, State
from soak.states import SEEN, STALLED

_SHOW_EVERY_S = 2.0
_IN_A_PIPE_EVERY_S = 300.0
_MOST_OF_A_KIND = 5
"""So many lines of one kind are said in a stretch; a bad night would bury the rest."""
_SWITCH = "switch"
_SPOKEN = {
    "alarm": "ALARM",  # never held back: a person must look
    "hand needed": "by hand",
    "trip": "TRIP",
    "bench fault": "bench fault",
    "writing refused": "stick",
    "silence": "guard",
    "rearmed": "guard",
    "bench well": "bench",
    "power unanswered": "switch",
    "off not proved": "switch",
    "host slept": "host",
    "clock stepped": "host",
}


@dataclass(slots=True)
class Terminal:
    """Show one soak.

    Parameters
    ----------
    unit : str
        The unit's tag, before each line where several run.
    units : mapping of quantity to measurement unit
    expected_s : mapping of stretch to s
    utc_now : callable
        Wall clock.
    left_known : bool
        Whether it is known how long the soak still lasts.
    """

    unit: str
    units: dict[str, str]
    expected_s: dict[str, float]
    utc_now: Callable[[], datetime]
    against: Against
    out: TextIO = field(default_factory=lambda: sys.stderr)
    left_known: bool = True
    _stretch: str = ""
    _begun_s: float = 0.0
    _picture: str = ""
    _latest: dict[str, float] = field(default_factory=dict)
    _starts: int = 0
    _shown_s: float = -1e9
    _said: Counter[str] = field(default_factory=Counter)
    _silent: set[str] = field(default_factory=set)
    _screen: bool = field(init=False)

    def __post_init__(self) -> None:
        self._screen = self.out.isatty()

    def watch(self, record: Observed) -> None:
        """Take every record."""
        for fault in self._new_faults(record):
            if fault.kind not in _SPOKEN:
                text = f"{fault.text}{', and goes on' * goes_on(fault, record.t_s)}"
                self._say_some(fault.kind, fault.from_s, text)
        if isinstance(record, State):
            self._state(record)
        elif isinstance(record, Reading):
            self._latest[record.quantity] = record.value
        elif isinstance(record, Mark):
            self._mark(record)
        every_s = _SHOW_EVERY_S if self._screen else _IN_A_PIPE_EVERY_S
        if record.t_s - self._shown_s >= every_s and self._stretch:
            self._shown_s = record.t_s
            self._show(record.t_s)

    def _new_faults(self, record: Observed) -> Sequence[UnitFault]:
        """Ask what speaks against the unit; whatever breaks in it, a preview ends no soak."""
        try:
            return self.against.notice(record)
        except Exception as bug:
            why = f"what speaks against it cannot be told here ({bug!r}); the soak goes on"
            self._say_some("preview", record.t_s, f"MIND: {why}")
            return ()

    def say(self, text: str) -> None:
        """Print a line that stays."""
        clear = "\r\x1b[K" if self._screen else ""
        self._write(f"{clear}{self.unit}  {text}\n")

    def ends(self) -> str:
        """Return when the soak ends by the clock if all goes well."""
        left_s = sum(self.expected_s.values())
        return f"{(self.utc_now() + timedelta(seconds=left_s)).astimezone():%H:%M}"

    def _state(self, state: State) -> None:
        source, t_s = state.source, state.t_s
        if source == "capture":
            self._picture = state.state
        elif (source, state.state) == ("stick", STALLED):
            self._say_some(STALLED, t_s, "the stick stalls: a transfer does not end")
        elif source in self._silent and state.state == SEEN:
            self._silent.remove(source)
            text = f"guard: {_plain(source)} speaks again; the power waits yet"
            self._say_some(source, t_s, text)

    def _mark(self, mark: Mark) -> None:
        if mark.what == "stretch begins":
            self._stretch, self._begun_s = mark.stretch, mark.t_s
            self._said.clear()
            self.say(f"{_at(mark.t_s)}  stretch {mark.stretch!r} begins")
        elif mark.what == "stretch ends":
            self.expected_s.pop(mark.stretch, None)
            because = str(mark.detail.get("because", ""))
            if because.endswith("by plan"):
                self.say(f"{_at(mark.t_s)}  stretch {mark.stretch!r} ends: {because}")
        elif mark.what == "start ended":
            self._starts += 1
        elif mark.what == "silence":  # the switch works again by a mark of its own
            self._silent |= {str(mark.detail.get("source", ""))} - {_SWITCH}
        elif mark.what == "operator left":
            if_it_fails = f"It ends about {self.ends()}; if" if self.left_known else "If"
            self.say(f"You can leave. {if_it_fails} something fails, the unit")
            self.say("is switched off or watched on as the script says, and it is on record.")
        if mark.what in _SPOKEN and mark.detail.get("by") != "nothing":  # that is said by itself
            self._say_some(mark.what, mark.t_s, f"{_SPOKEN[mark.what]}: {self._words(mark)}")

    def _words(self, mark: Mark) -> str:
        """Return what a mark tells a person."""
        detail = mark.detail
        if mark.what == "trip" and "value" in detail:
            source = str(detail["source"])
            unit = self.units.get(source, "")
            value, limit = (show_value(float(detail[key]), unit) for key in ("value", "limit"))
            return (
                f"{_plain(source)} read {value}, its trip is {limit}; the guard cuts the power for "
                "good"
            )
        key, words = _WORDS.get(mark.what, ("", str))
        if key in detail:
            return words(detail[key])
        return str(detail.get("why") or detail.get("what") or detail.get("reason") or mark.what)

    def _say_some(self, kind: str, t_s: float, text: str) -> None:
        """Say the first lines of a kind in a stretch, then once that there are more."""
        self._said[kind] += 1
        if kind == "alarm" or self._said[kind] <= _MOST_OF_A_KIND:
            self.say(f"{_at(t_s)}  {text}")
        elif self._said[kind] == _MOST_OF_A_KIND + 1:
            self.say(f"{_at(t_s)}  {text}; more of these are not shown, see `soak show`")

    def _show(self, t_s: float) -> None:
        done_s = min(t_s - self._begun_s, self.expected_s.get(self._stretch, 0.0))
        left_s = max(0.0, sum(self.expected_s.values()) - done_s)
        parts = [self._stretch, self._picture or "no picture yet"]
        if self._starts:
            parts.append(f"{self._starts} starts")
        parts += [
            f"{name.removeprefix('probe.')} {show_value(value, self.units[name])}"
            for name, value in self._latest.items()
            if name.startswith("probe.") and name in self.units
        ]
        count = len(self.against.faults)
        parts.append(f"{count} against it so far" if count else "nothing against it so far")
        if self.left_known:
            parts.append(f"{show_duration(left_s)} left")
        line = " · ".join(parts)
        if self._screen:
            self._write(f"\r\x1b[K{self.unit}  {line}")
        else:
            self._write(f"{self.unit}  {_at(t_s)}  {line}\n")

    def _write(self, text: str) -> None:
        """Write; where nobody listens any more (closed window, broken pipe) the soak goes on."""
        with suppress(OSError, ValueError):
            self.out.write(text)
            self.out.flush()


def _plain(source: str) -> str:
    """Return a source as it is called on the screen."""
    return "the switch" if source == _SWITCH else source.removeprefix("probe.")


_WORDS: Mapping[str, tuple[str, Callable[[Any], str]]] = {
    "silence": (
        "source",
        lambda source: (
            f"{_plain(source)} fell silent; the power stays off until it has spoken "
            "again for a while"
        ),
    ),
    "rearmed": ("reason", lambda reason: f"{reason}; the power may come back"),
    "bench well": ("instrument", lambda instrument: f"{_plain(instrument)} works again"),
    "host slept": ("for_s", lambda for_s: f"it slept for {show_duration(float(for_s))}"),
    "clock stepped": ("by_s", lambda by_s: f"its clock was set by {float(by_s):+g} s"),
}
"""What a mark tells a person, by the key of its detail that says it."""


def by_guard(record: Observed) -> str:
    """Return what guard and switch say, for a bench without this screen; empty for all else."""
    if not isinstance(record, Mark) or record.what not in ("alarm", "silence", "rearmed"):
        return ""
    key, words = _WORDS.get(record.what, ("why", str))
    return f"{_SPOKEN[record.what]}: {words(record.detail.get(key, ''))}"


def _at(t_s: float) -> str:
    hours, rest = divmod(int(t_s), 3600)
    return f"{hours:d}:{rest // 60:02d}:{rest % 60:02d}"
