"""The terminal of a running soak: one line that keeps itself up to date, and what must be said."""

import sys
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TextIO

from soak.derive.events.faults import UnitFault
from soak.derive.said import state_words
from soak.derive.seeing.coverage import BY_PLAN, ending_words
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
from soak.names import named, source_named
from soak.reader import CLEARED, show
from soak.records import Mark, Observed, Reading, State
from soak.states import SEEN, STALLED
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Number,
    Said,
    counted,
    joined,
    message_of,
    msg,
    paragraph,
)

_SHOW_EVERY_S = 2.0
_IN_A_PIPE_EVERY_S = 300.0
_MOST_OF_A_KIND = 5
"""So many lines of one kind are said in a stretch; a bad night would bury the rest."""
_SWITCH = "switch"
_SPOKEN = {
    "alarm": msg("ALARM"),  # never held back: a person must look
    "hand needed": msg("by hand"),
    "trip": msg("TRIP"),
    "bench fault": msg("bench fault"),
    "writing refused": msg("stick"),
    "silence": msg("guard"),
    "rearmed": msg("guard"),
    "bench well": msg("bench"),
    "power unanswered": msg("switch"),
    "off not proved": msg("switch"),
    "host slept": msg("host"),
    "clock stepped": msg("host"),
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
                text = fault.text
                if goes_on(fault, record.t_s):
                    text = msg("{fault}, and goes on", fault=fault.text)
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
            text = msg(
                "MIND: what speaks against it cannot be told here ({bug}); the soak goes on",
                bug=repr(bug),
            )
            self._say_some("preview", record.t_s, text)
            return ()

    def say(self, told: Said) -> None:
        """Print a line that stays."""
        self._write(told)

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
            self._say_some(STALLED, t_s, msg("the stick stalls: a transfer does not end"))
        elif source in self._silent and state.state == SEEN:
            self._silent.remove(source)
            text = msg("{source} speaks again; the power waits yet", source=_plain(source))
            self._say_some(source, t_s, msg("{who}: {what}", who=msg("guard"), what=text))

    def _mark(self, mark: Mark) -> None:
        fact = fact_of(mark)
        match fact:
            case StretchBegins():
                self._stretch = mark.stretch
                self._begun_s = mark.t_s
                self._said.clear()
                self._say_at(mark.t_s, msg("stretch {name} begins", name=_quoted(mark.stretch)))
            case StretchEnds(because=because):
                self.expected_s.pop(mark.stretch, None)
                if because in BY_PLAN:
                    text = msg(
                        "stretch {name} ends: {because}",
                        name=_quoted(mark.stretch),
                        because=ending_words(because),
                    )
                    self._say_at(mark.t_s, text)
            case StartEnded():
                self._starts += 1
            case FellSilent(source=source):  # the switch works again by a mark of its own
                self._silent |= {source} - {_SWITCH}
            case OperatorLeft():
                self.say(self._may_leave())
        unseen = isinstance(fact, OffNotProved) and fact.by == "nothing"  # that is said by itself
        if mark.what in _SPOKEN and not unseen:
            self._say_some(mark.what, mark.t_s, _by(mark.what, self._words(fact)))

    def _may_leave(self) -> Message:
        left = msg("You can leave.")
        ends = msg("It ends about {time}.", time=self.ends()) if self.left_known else None
        fails = msg(
            "If something fails, the unit is switched off or watched on as the script says, and "
            "it is on record."
        )
        return paragraph(left, ends, fails)

    def _words(self, fact: Fact) -> Message:
        """Return what a mark tells a person."""
        if isinstance(fact, Tripped) and fact.value is not None and fact.limit is not None:
            unit = self.units.get(fact.source, "")
            return msg(
                "{source} read {value}, its trip is {limit}; the guard cuts the power for good",
                source=_plain(fact.source),
                value=Amount(fact.value, unit),
                limit=Amount(fact.limit, unit),
            )
        return _words(fact)

    def _say_at(self, t_s: float, told: Message) -> None:
        self.say(joined("  ", [_at(t_s), told]))

    def _say_some(self, kind: str, t_s: float, text: Message) -> None:
        """Say the first lines of a kind in a stretch, then once that there are more."""
        self._said[kind] += 1
        if kind == "alarm" or self._said[kind] <= _MOST_OF_A_KIND:
            self._say_at(t_s, text)
        elif self._said[kind] == _MOST_OF_A_KIND + 1:
            more = msg("{what}; more of these are not shown, see `soak show`", what=text)
            self._say_at(t_s, more)

    def _show(self, t_s: float) -> None:
        done_s = min(t_s - self._begun_s, self.expected_s.get(self._stretch, 0.0))
        left_s = max(0.0, sum(self.expected_s.values()) - done_s)
        looks = state_words(self._picture) if self._picture else msg("no picture yet")
        parts: list[Said] = [named(self._stretch), looks]
        if self._starts:
            parts.append(counted(self._starts, "1 start", "{count} starts"))
        parts += [
            joined(" ", [source_named(name), Amount(value, self.units[name])])
            for name, value in self._latest.items()
            if name.startswith("probe.") and name in self.units
        ]
        parts.append(
            counted(
                len(self.against.faults),
                "1 against it so far",
                "{count} against it so far",
                none=msg("nothing against it so far"),
            )
        )
        if self.left_known:
            parts.append(msg("{time} left", time=Amount(left_s, "s")))
        line = joined(" · ", parts)
        if self._screen:
            self._write(line, end="")
        else:
            self._write(joined("  ", [_at(t_s), line]))

    def _write(self, told: Said, end: str = "\n") -> None:
        cleared = CLEARED if self._screen else ""
        show(joined("  ", [self.unit, told]), self.out, before=cleared, end=end)


def _plain(source: str) -> Message:
    """Return a source as it is called on the screen."""
    return msg("the switch") if source == _SWITCH else source_named(source)


def _by(kind: str, told: Message) -> Message:
    return msg("{who}: {what}", who=_SPOKEN[kind], what=told)


def _quoted(stretch: str) -> Message:
    return msg("'{name}'", name=named(stretch))


def _words(fact: Fact) -> Message:
    """Return what a mark tells a person."""
    match fact:
        case FellSilent(source=source):
            return msg(
                "{source} fell silent; the power stays off until it has spoken again for a while",
                source=_plain(source),
            )
        case Rearmed(reason=reason):
            return msg("{reason}; the power may come back", reason=message_of(reason))
        case BenchWell(instrument=instrument):
            return msg("{instrument} works again", instrument=_plain(instrument))
        case HostSlept(for_s=for_s):
            return msg("it slept for {time}", time=Amount(for_s, "s"))
        case ClockStepped(by_s=by_s):
            return msg("its clock was set by {by} s", by=Number(by_s, "+g"))
        case BenchFaulted(what=what):
            return message_of(what)
        case Tripped():
            return msg("trip")
        case OffNotProved():
            return msg("off not proved")
    return message_of(getattr(fact, "why", "") or fact.mark)


def by_guard(record: Observed) -> Message:
    """Return what guard and switch say, for a bench without this screen; empty for all else."""
    if not isinstance(record, Mark) or record.what not in ("alarm", "silence", "rearmed"):
        return NOTHING_SAID
    return _by(record.what, _words(fact_of(record)))


def _at(t_s: float) -> str:
    hours, rest = divmod(int(t_s), 3600)
    return f"{hours:d}:{rest // 60:02d}:{rest % 60:02d}"
