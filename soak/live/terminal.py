"""The terminal of a running soak: one line that keeps itself up to date, and what must be said."""

import sys
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TextIO

from soak.live.against import Against
from soak.quantities import show_duration, show_value
from soak.records import Mark, Observed, Reading, State

_SHOW_EVERY_S = 2.0
_IN_A_PIPE_EVERY_S = 300.0
_MOST_OF_A_KIND = 5
"""So many lines of one kind are said in a stretch; a bad night would bury the rest."""
_SPOKEN = {
    "alarm": "ALARM",  # never held back: a person must look
    "hand needed": "by hand",
    "trip": "TRIP",
    "bench fault": "bench fault",
    "silence": "guard",
    "rearmed": "guard",
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
    _screen: bool = field(init=False)

    def __post_init__(self) -> None:
        self._screen = self.out.isatty()

    def watch(self, record: Observed) -> None:
        """Take every record."""
        against = self.against.notice(record)
        spoken = isinstance(record, Mark) and record.what in _SPOKEN
        if against and not spoken:
            self._say_some(record, against)
        if isinstance(record, State) and record.source == "capture":
            self._picture = record.state
        elif isinstance(record, Reading):
            self._latest[record.quantity] = record.value
        elif isinstance(record, Mark):
            self._mark(record)
        every_s = _SHOW_EVERY_S if self._screen else _IN_A_PIPE_EVERY_S
        if record.t_s - self._shown_s >= every_s and self._stretch:
            self._shown_s = record.t_s
            self._show(record.t_s)

    def say(self, text: str) -> None:
        """Print a line that stays."""
        clear = "\r\x1b[K" if self._screen else ""
        self._write(f"{clear}{self.unit}  {text}\n")

    def ends(self) -> str:
        """Return when the soak ends by the clock if all goes well."""
        left_s = sum(self.expected_s.values())
        return f"{(self.utc_now() + timedelta(seconds=left_s)).astimezone():%H:%M}"

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
        elif mark.what == "operator left":
            if_it_fails = f"It ends about {self.ends()}; if" if self.left_known else "If"
            self.say(f"You can leave. {if_it_fails} something fails, the unit")
            self.say("is switched off or watched on as the script says, and it is on record.")
        elif mark.what in _SPOKEN:
            self._say_some(mark, f"{_SPOKEN[mark.what]}: {self._words(mark)}")

    def _words(self, mark: Mark) -> str:
        """Return what a mark tells a person."""
        detail = mark.detail
        source = str(detail.get("source", "a probe")).removeprefix("probe.")
        if mark.what == "trip" and "value" in detail:
            unit = self.units.get(str(detail["source"]), "")
            value, limit = (show_value(float(detail[key]), unit) for key in ("value", "limit"))
            return f"{source} read {value}, its trip is {limit}; the guard cuts the power for good"
        if mark.what == "silence":
            return f"{source} fell silent; the power stays off until it speaks again"
        if mark.what == "host slept" and "for_s" in detail:
            return f"it slept for {show_duration(float(detail['for_s']))}"
        if mark.what == "clock stepped" and "by_s" in detail:
            return f"its clock was set by {float(detail['by_s']):+g} s"
        return str(detail.get("why") or detail.get("what") or detail.get("reason") or mark.what)

    def _say_some(self, record: Observed, text: str) -> None:
        """Say the first lines of a kind in a stretch, then once that there are more."""
        kind = _kind(record)
        self._said[kind] += 1
        if kind == "alarm" or self._said[kind] <= _MOST_OF_A_KIND:
            self.say(f"{_at(record.t_s)}  {text}")
        elif self._said[kind] == _MOST_OF_A_KIND + 1:
            self.say(f"{_at(record.t_s)}  {text}; more of these are not shown, see `soak show`")

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
        count = len(self.against.said)
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


def _kind(record: Observed) -> str:
    if isinstance(record, Mark):
        return record.what
    return record.source if isinstance(record, State) else type(record).__name__


def _at(t_s: float) -> str:
    hours, rest = divmod(int(t_s), 3600)
    return f"{hours:d}:{rest // 60:02d}:{rest % 60:02d}"
