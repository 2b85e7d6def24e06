"""The terminal of a running soak: one line that keeps itself up to date, and what must be said."""

import sys
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TextIO

from soak.derive.events.faults import UnitFault
from soak.live.against import Against, goes_on
from soak.marks import (
    BenchFaulted,
    BenchWell,
    ClockStepped,
    Fact,
    FellSilent,
    HostSlept,
    OffNotProved,
    OperatorLeft,
    Rearmed,
    StartEnded,
    StretchBegins,
    StretchEnds,
    Tripped,
    fact_of,
)
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
        source = state.source
        t_s = state.t_s
        if source == "capture":
            self._picture = state.state
        elif (source, state.state) == ("stick", STALLED):
            self._say_some(STALLED, t_s, "the stick stalls: a transfer does not end")
        elif source in self._silent and state.state == SEEN:
            self._silent.remove(source)
            text = f"guard: {_plain(source)} speaks again; the power waits yet"
            self._say_some(source, t_s, text)

    def _mark(self, mark: Mark) -> None:
        fact = fact_of(mark)
        match fact:
            case StretchBegins():
                self._stretch = mark.stretch
                self._begun_s = mark.t_s
                self._said.clear()
                self.say(f"{_at(mark.t_s)}  stretch {mark.stretch!r} begins")
            case StretchEnds(because=because):
                self.expected_s.pop(mark.stretch, None)
                if because.endswith("by plan"):
                    self.say(f"{_at(mark.t_s)}  stretch {mark.stretch!r} ends: {because}")
            case StartEnded():
                self._starts += 1
            case FellSilent(source=source):  # the switch works again by a mark of its own
                self._silent |= {source} - {_SWITCH}
            case OperatorLeft():
                if_it_fails = f"It ends about {self.ends()}; if" if self.left_known else "If"
                self.say(f"You can leave. {if_it_fails} something fails, the unit")
                self.say("is switched off or watched on as the script says, and it is on record.")
        unseen = isinstance(fact, OffNotProved) and fact.by == "nothing"  # that is said by itself
        if mark.what in _SPOKEN and not unseen:
            self._say_some(mark.what, mark.t_s, f"{_SPOKEN[mark.what]}: {self._words(fact)}")

    def _words(self, fact: Fact) -> str:
        """Return what a mark tells a person."""
        if isinstance(fact, Tripped) and fact.value is not None and fact.limit is not None:
            unit = self.units.get(fact.source, "")
            value, limit = (show_value(one, unit) for one in (fact.value, fact.limit))
            return (
                f"{_plain(fact.source)} read {value}, its trip is {limit}; the guard cuts the "
                "power for good"
            )
        return _words(fact)

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


def _words(fact: Fact) -> str:
    """Return what a mark tells a person."""
    match fact:
        case FellSilent(source=source):
            return (
                f"{_plain(source)} fell silent; the power stays off until it has spoken again for "
                "a while"
            )
        case Rearmed(reason=reason):
            return f"{reason}; the power may come back"
        case BenchWell(instrument=instrument):
            return f"{_plain(instrument)} works again"
        case HostSlept(for_s=for_s):
            return f"it slept for {show_duration(for_s)}"
        case ClockStepped(by_s=by_s):
            return f"its clock was set by {by_s:+g} s"
        case BenchFaulted(what=what):
            return what
    return str(getattr(fact, "why", "") or fact.mark)


def by_guard(record: Observed) -> str:
    """Return what guard and switch say, for a bench without this screen; empty for all else."""
    if not isinstance(record, Mark) or record.what not in ("alarm", "silence", "rearmed"):
        return ""
    return f"{_SPOKEN[record.what]}: {_words(fact_of(record))}"


def _at(t_s: float) -> str:
    hours, rest = divmod(int(t_s), 3600)
    return f"{hours:d}:{rest // 60:02d}:{rest % 60:02d}"
