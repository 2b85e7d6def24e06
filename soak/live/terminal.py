"""One unit in the window of soaks that run: what is true of it now, and what must be said."""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from soak.derive.events.faults import UnitFault
from soak.derive.said import state_words
from soak.derive.seeing.coverage import BY_PLAN, ending_words
from soak.instruments import ROLES
from soak.live.against import Against, goes_on
from soak.live.window import Window
from soak.marks import (
    Answered,
    BenchFaulted,
    BenchWell,
    ClockStepped,
    Fact,
    FellSilent,
    HostSlept,
    OffNotProved,
    OperatorLeft,
    PowerChanged,
    QuestionAsked,
    Rearmed,
    StartEnded,
    StretchBegins,
    StretchEnds,
    Tripped,
    fact_of,
)
from soak.names import named, source_named
from soak.records import Mark, Observed, Reading, State
from soak.rules.answered import answer_words
from soak.states import BLIND, SEEN, STALLED
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
    window : Window
        Where it is shown.
    now_s : callable
        Soak time, s; for what is shown between two records.
    ended : callable
        Tells whether the soak is over.
    """

    unit: str
    units: dict[str, str]
    expected_s: dict[str, float]
    utc_now: Callable[[], datetime]
    against: Against
    window: Window
    now_s: Callable[[], float] = lambda: -math.inf
    ended: Callable[[], bool] = lambda: False
    _stretch: str = ""
    _begun_s: float = 0.0
    _seen_s: float = 0.0
    _on: bool | None = None
    _states: dict[str, str] = field(default_factory=dict)
    _latest: dict[str, float] = field(default_factory=dict)
    _bench: dict[str, Message] = field(default_factory=dict)
    _asked: dict[str, QuestionAsked] = field(default_factory=dict)
    _starts: int = 0
    _shown_s: float = -1e9
    _said: Counter[str] = field(default_factory=Counter)
    _silent: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.window.add(self)

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
        self._seen_s = record.t_s
        if self.window.live:
            self.window.refresh(seldom=True)
        elif record.t_s - self._shown_s >= _IN_A_PIPE_EVERY_S and self._stretch:
            self._shown_s = record.t_s
            self._say_at(record.t_s, joined(" · ", self._now()))

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
        self.window.say(joined("  ", [self.unit, told]))

    def ends(self, t_s: float) -> str:
        """Return when the soak ends by the clock if all goes well, as known at a soak time."""
        left_s = sum(self.expected_s.values()) - max(0.0, self.now_s() - t_s)
        return f"{(self.utc_now() + timedelta(seconds=left_s)).astimezone():%H:%M}"

    def _state(self, state: State) -> None:
        source = state.source
        t_s = state.t_s
        self._states[source] = state.state
        if (source, state.state) == ("stick", STALLED):
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
            case PowerChanged(on=on):
                self._on = on
            case QuestionAsked():
                self._asked[fact.id] = fact
            case Answered():
                self._answered(mark.t_s, fact)
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
                self._bench[source] = msg("{source} fell silent", source=_plain(source))
            case BenchFaulted(instrument=instrument, what=what):
                self._bench[instrument] = message_of(what)
            case BenchWell(instrument=instrument):
                self._bench.pop(instrument, None)
            case Rearmed():
                self._bench = {name: why for name, why in self._bench.items() if name == _SWITCH}
            case OperatorLeft():
                self.say(self._may_leave(mark.t_s))
        unseen = isinstance(fact, OffNotProved) and fact.by == "nothing"  # that is said by itself
        if mark.what in _SPOKEN and not unseen:
            self._say_some(mark.what, mark.t_s, _by(mark.what, self._words(fact)))

    def _may_leave(self, t_s: float) -> Message:
        left = msg("You can leave.")
        ends = msg("It ends about {time}.", time=self.ends(t_s))
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

    def _answered(self, t_s: float, answered: Answered) -> None:
        """Say what counts as the answer: it may have come from elsewhere, or from nobody."""
        asked = self._asked.pop(answered.id, None)
        here = answered.by == "operator" and not self.window.live
        if asked is None or here or self.against.header.simulated:
            return
        text = message_of(asked.text)
        if answered.answer is None:
            self._say_at(t_s, msg("{question} Nobody answered in time.", question=text))
            return
        said = msg(
            "{question} {answer} ({by})",
            question=text,
            answer=answer_words(answered.answer),
            by=answered.by,
        )
        self._say_at(t_s, said)

    def parts(self) -> Sequence[Said]:
        """Return what is true of the unit now, the most urgent first; nothing once it is over."""
        if self.ended():
            return ()
        first, *others = self._now()
        return [joined("  ", [self.unit, first]), *others]

    def _now(self) -> Sequence[Said]:
        faults = self.against.faults
        left = msg("{time} left", time=Amount(self._left_s(), "s"))
        against = counted(
            len(faults),
            "1 against it so far",
            "{count} against it so far",
            none=msg("nothing against it so far"),
        )
        name = named(self._stretch) if self._stretch else msg("begins")
        parts: list[Said] = [name, left, against, *self._lasting(faults), *self._bench.values()]
        if self._on is not None:
            parts.append(msg("power on") if self._on else msg("power off"))
        if self._starts:
            parts.append(counted(self._starts, "1 start", "{count} starts"))
        return [*parts, *self._sights()]

    def _lasting(self, faults: Sequence[UnitFault]) -> Sequence[Message]:
        """Return what is wrong with the unit at this moment."""
        return [
            msg("{fault}, and goes on", fault=fault.text)
            for fault in faults
            if goes_on(fault, self.against.asked_s)
            and (not fault.state or self._states.get(fault.source) == fault.state)
        ]

    def _sights(self) -> Sequence[Said]:
        """Return what each instrument sees."""
        wired = self.against.header.fixture.wired
        parts: list[Said] = []
        for source in wired:
            state = self._states.get(source)
            if source == "capture":
                parts.append(msg("no picture yet") if state is None else state_words(state))
            elif source in self._latest and state != BLIND:
                amount = Amount(self._latest[source], self.units[source])
                parts.append(joined(" ", [_called(source), amount]))
            elif source.startswith("probe.") and state == SEEN:
                parts.append(msg("{source}: no reading yet", source=_called(source)))
            elif state is not None and (source, state) != (_SWITCH, SEEN):  # told as its power
                parts.append(joined(" ", [_called(source), state_words(state)]))
        return parts

    def _left_s(self) -> float:
        now_s = max(self.now_s(), self._seen_s)
        done_s = min(now_s - self._begun_s, self.expected_s.get(self._stretch, 0.0))
        return max(0.0, sum(self.expected_s.values()) - done_s)


def _called(source: str) -> Message:
    """Return an instrument as it is called; a probe by its own name."""
    called = (entry.called for role, entry in ROLES.items() if role == source)
    return next(called, source_named(source))


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
