"""What a journal shows, as spans of time: power, blindness, states as the band draws them."""

from collections.abc import Sequence

from soak.charts.axes import clock_text
from soak.charts.thinning import Span, merged
from soak.journal.base import Evidence
from soak.judge.power import power_windows, unpowered
from soak.quantities import show_duration
from soak.records import BLIND, State
from soak.report.model import Hole


def sessions(evidence: Evidence) -> list[Span]:
    """Return begin and end in s of each session, the time in which nobody looked left out."""
    begun = list(evidence.sessions())
    if not begun:
        return [(0.0, evidence.ends_s)]
    ends = [later.begins_at_s - (later.gap_s or 0.0) for later in begun[1:]] + [evidence.ends_s]
    pairs = zip(begun, ends, strict=True)
    return [(one.begins_at_s, max(end_s, one.begins_at_s)) for one, end_s in pairs]


def powered(evidence: Evidence) -> list[Span]:
    """Return the spans in s in which the unit had power, as the judgement sees it."""
    fixture = evidence.header.fixture
    return power_windows(evidence.marks(), fixture, sessions(evidence), evidence.ends_s)


def power_off(evidence: Evidence) -> list[Span]:
    """Return the spans in s without power; none if there is no switch."""
    if not evidence.header.fixture.get("switch"):
        return []
    return unpowered(powered(evidence), 0.0, evidence.ends_s)


def spans_of(states: Sequence[State], ends_s: float) -> list[tuple[State, float]]:
    """Return each state with the time in s at which it ended."""
    ends = [state.t_s for state in states[1:]] + [ends_s]
    return [(state, end_s) for state, end_s in zip(states, ends, strict=True)]


def session_gaps(evidence: Evidence) -> list[Span]:
    """Return the spans in s between sessions, in which nobody looked."""
    gaps = []
    for session in evidence.sessions()[1:]:
        gap_s = session.gap_s or 0.0
        gaps.append((max(session.begins_at_s - gap_s, 0.0), session.begins_at_s))
    return gaps


def blind(evidence: Evidence, source: str) -> list[Span]:
    """Return the spans in s in which a source could not be seen, sessions' gaps among them."""
    spans = [
        (state.t_s, end_s)
        for state, end_s in spans_of(evidence.states(source), evidence.ends_s)
        if state.state == BLIND
    ]
    return merged(spans + session_gaps(evidence))


def sources(evidence: Evidence) -> list[str]:
    """Return the sources of the fixture in a fixed order: capture, stick, link, probes, switch."""
    fixture = evidence.header.fixture
    names = [name for name in ("capture", "stick", "link") if name in fixture]
    probes = [f"probe.{name}" for name in sorted(fixture.get("probe", {}))]
    return names + probes + (["switch"] if "switch" in fixture else [])


def holes(evidence: Evidence) -> list[Hole]:
    """List every time the bench could not see or was not itself."""
    found = []
    for source in sources(evidence):
        for state, end_s in spans_of(evidence.states(source), evidence.ends_s):
            if state.state == BLIND:
                lasts = show_duration(end_s - state.t_s)
                why = str(state.detail.get("why", "the bench could not see it"))
                found.append(Hole(source=source, from_s=state.t_s, lasts=lasts, why=why))
    for session in evidence.sessions()[1:]:
        known = session.gap_s is not None
        lasts = show_duration(session.gap_s or 0.0) if known else "unknown"
        why = f"the program was not running; length from the {session.gap_from}"
        found.append(Hole(source="bench", from_s=session.begins_at_s, lasts=lasts, why=why))
    for mark in evidence.marks("bench fault"):
        source, why = str(mark.detail.get("instrument", "bench")), str(mark.detail.get("what", ""))
        found.append(Hole(source=source, from_s=mark.t_s, lasts="bench fault", why=why))
    for mark in evidence.marks("host slept"):
        lasts = show_duration(float(mark.detail.get("for_s", 0.0)))
        found.append(Hole(source="bench", from_s=mark.t_s, lasts=lasts, why="the computer slept"))
    return sorted(found, key=lambda hole: (hole.from_s, hole.source))


def at(t_s: float) -> str:
    """Write a soak time for people, `"2:14:07"`."""
    return clock_text(t_s, seconds=True)
