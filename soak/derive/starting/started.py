"""When the unit had power and had started, so that it should show what it promises."""

from collections.abc import Sequence

from soak.derive.electric.power import charged_until_s
from soak.derive.seeing.holes import Period
from soak.derive.spans import Span
from soak.derive.starting.starts import Start
from soak.frozen.fixture import Fixture
from soak.records import Mark
from soak.states import PICTURE


def started_windows(
    windows: Sequence[Span],
    starts: Sequence[Start],
    seen: Sequence[Period] | None,
    marks: Sequence[Mark],
    fixture: Fixture,
    usual_s: float,
    give_up_s: float,
    settled_s: float = 0.0,
) -> list[Span]:
    """Return the spans from the end of each start until shortly before the power goes.

    Parameters
    ----------
    windows : sequence of (float, float)
        Spans with power.
    seen : sequence of Period or None
        What the capture was seen to be; None if it is not wired.
    usual_s, give_up_s : float
        Usual and longest time from power to picture, s, where no check watched the start. After
        `give_up_s` the unit should show something whether it does or not.
    settled_s : float
        Time from power to picture by the model sheet, s: nothing is charged before.
    """
    started = []
    for on_s, off_s in windows:
        own = [start for start in starts if on_s <= start.t_on < off_s]
        begins_s = _begins_s(on_s, off_s, own, seen=seen, usual_s=usual_s, give_up_s=give_up_s)
        until_s = charged_until_s(off_s, marks, fixture)
        if begins_s is None:
            continue
        # Many units show a maker's sign first, go black, and only then are up: until the usual time
        # from power to picture has passed, a picture that goes again is part of the start.
        begins_s = max(begins_s, on_s + settled_s)
        if begins_s < until_s:
            started.append((begins_s, until_s))
    return started


def _begins_s(
    on_s: float,
    off_s: float,
    own: Sequence[Start],
    seen: Sequence[Period] | None,
    usual_s: float,
    give_up_s: float,
) -> float | None:
    if own and own[-1].took_s is not None:
        return own[-1].t_on + own[-1].took_s
    if seen is None:
        return on_s + usual_s
    shown = (p for p in seen if p.state == PICTURE and p.to_s > on_s and p.from_s <= off_s)
    first = next(shown, None)
    if first is not None:
        return max(first.from_s, on_s)
    # A start that a check watched and that failed is charged there and not a second time here.
    return None if own else on_s + give_up_s
