"""What somebody saw where no instrument watches: starts, a plug that is moved, the picture.

Each is asked for. An answer is evidence where it has initials and was given while the unit had
power; what was not answered is a hole: it is not counted, and how often that was is said. An eye
times nothing and misses what is short, so no time and no bound is stated from it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

from soak.derive.course import Course
from soak.derive.said import numbered_start
from soak.derive.seeing.coverage import Coverage, coverage, dead_in
from soak.derive.spans import holds, minus
from soak.marks import Answered, OffNotProved, OffProved, fact_as
from soak.records import Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.allowed import but_for
from soak.rules.core.by_person import by_eye
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.reads import Tried
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import terms
from soak.words import NOTHING_SAID, Amount, Message, counted, just, msg, paragraph

_OFF_TOLD = (OffProved.mark, OffNotProved.mark)


@terms
class EyeTerms:
    """What is looked at, and how often.

    Attributes
    ----------
    promised : int or None
        So many answers; None: as many as were asked for.
    asked_s : float
        So long after power came a start is asked for; so often the picture is looked at, s.
    port : str
        The port whose plug is moved.
    """

    promised: int | None = None
    asked_s: float = 0.0
    port: str = ""


@dataclass(frozen=True, slots=True)
class _Kind:
    """What is asked for.

    Attributes
    ----------
    told : callable
        Says how many of how many were good.
    limits : Message
        What an eye cannot tell of it.
    after_off : bool
        Whether it counts only where the unit was seen to be off before.
    """

    told: Callable[[int, int, EyeTerms], Message]
    limits: Message
    after_off: bool = False


@dataclass(frozen=True, slots=True)
class _Looks:
    """The looks of one soak that count, and how many are missing."""

    good: Sequence[Mark]
    bad: Sequence[Mark]
    missed: int
    covered: Coverage


def _judge(kind: _Kind, need: Requirement, terms: EyeTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` looks spoke against the unit."""
    looks = [(course, _looks(kind, need, terms, course)) for course in soaks]
    bad = [(course, mark) for course, here in looks for mark in here.bad]
    seen = [mark for _, here in looks for mark in (*here.good, *here.bad)]
    missed = sum(here.missed for _, here in looks)
    covered = [here.covered for _, here in looks]
    if not seen:
        return not_shown(need, covered[-1].why or msg("nobody answered"))
    failed = len(bad)
    allowed = need.limit or 0.0
    because = paragraph(
        kind.told(len(seen) - failed, len(seen), terms),
        counted(
            missed,
            "1 more was not seen: it is not counted.",
            "{count} more were not seen: they are not counted.",
            none=NOTHING_SAID,
        ),
        kind.limits,
    )
    value = Value(
        failed,
        margin=allowed - failed,
        method=msg("The operator's word"),
        over=len(seen),
        judged_by=by_eye(seen),
    )
    pointers = [
        Pointer(course.header.soak_id, mark.t_s, mark.t_s, just(fact_as(mark, Answered).id))
        for course, mark in bad
    ]
    detail = {"looks": len(seen), "failed": failed, "missed": missed}
    return settle(
        need,
        failed <= allowed,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )


def _looks(kind: _Kind, need: Requirement, terms: EyeTerms, course: Course) -> _Looks:
    asked: dict[str, list[Mark]] = {}
    for mark in course.marks(Answered.mark):
        name = fact_as(mark, Answered).id
        if name.startswith(f"{need.quantity} "):
            asked.setdefault(name, []).append(mark)
    counting = [[mark for mark in marks if _counts(kind, course, mark)] for marks in asked.values()]
    bad = [answer for marks in counting if (answer := _said("no", marks)) is not None]
    good = [
        answer
        for marks in counting
        if _said("no", marks) is None and (answer := _said("yes", marks)) is not None
    ]
    promised = len(asked) if terms.promised is None else terms.promised
    covered = _covered(need, course, len(good) + len(bad), promised)
    return _Looks(good, bad, max(0, promised - len(good) - len(bad)), covered)


def _said(answer: str, marks: Sequence[Mark]) -> Mark | None:
    """Return the first such answer; one that speaks for the unit needs initials."""
    fitting = (mark for mark in marks if fact_as(mark, Answered).answer == answer)
    return next(
        (mark for mark in fitting if fact_as(mark, Answered).initials or answer == "no"), None
    )


def _counts(kind: _Kind, course: Course, mark: Mark) -> bool:
    """Tell whether the unit had power when it was looked at, and was off before if it had to be."""
    powered = minus(course.power, course.dead_spans)
    window = next((span for span in powered if holds(mark.t_s, [span])), None)
    if window is None or not kind.after_off:
        return window is not None
    since_s = max((off_s for _, off_s in course.power if off_s <= window[0]), default=0.0)
    events = [
        event.what
        for event in course.marks()
        if event.what in _OFF_TOLD and since_s <= event.t_s <= window[0]
    ]
    return bool(events) and events[-1] == OffProved.mark


def _covered(need: Requirement, course: Course, seen: int, promised: int) -> Coverage:
    """Return coverage by count: what was promised is a number of looks."""
    plain = coverage(course, need, ())
    why = NOTHING_SAID
    if seen < ceil(promised * (1 - need.blind_allowed)):
        sentence = msg("only {seen} of {promised} were seen", seen=seen, promised=promised)
        why = dead_in(course, need.stretch) or sentence
    return Coverage(
        plain.promised_s, plain.observed_s, 0.0, longest_blind_s=0.0, why=plain.why or why
    )


def _started(good: int, tried: int, terms: EyeTerms) -> Message:
    return counted(
        tried,
        "The picture was there after {good} of 1 start, looked at {time} after power came.",
        "The picture was there after {good} of {count} starts, looked at {time} after power came.",
        good=good,
        time=Amount(terms.asked_s, "s"),
    )


_START = _Kind(
    _started,
    msg(
        "By eye nobody knows how long a start took, only that the picture was there when somebody "
        "looked."
    ),
    after_off=True,
)


def _starts(need: Requirement, terms: EyeTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` starts showed no picture when somebody looked.

    A start counts where the unit was seen by eye to go off before it.
    """
    return _judge(_START, need, terms, soaks)


def _each_start(need: Requirement, terms: EyeTerms) -> Message:
    time = Amount(terms.asked_s, "s")
    return but_for(
        need,
        msg("Every start shows a picture by eye, looked at {time} after power came", time=time),
    )


STARTS_BY_EYE = Rule(
    name="starts by eye",
    terms=EyeTerms,
    judge=_starts,
    demands=_each_start,
    reads=Tried(
        large_words=lambda good, tried: counted(
            tried,
            "{good} of 1 start worked, by eye",
            "{good} of {count} starts worked, by eye",
            good=good,
        )
    ),
    lacks=lambda finding, terms, lasts_s: lacks.starts(finding, terms.promised),
    section=Section.STARTS,
    bounds=Bounds.NONE,
    by_person=True,
)


def _stayed(good: int, tried: int, terms: EyeTerms) -> Message:
    return counted(
        tried,
        "At the port {port} it stayed in {good} of 1 movement or rest.",
        "At the port {port} it stayed in {good} of {count} movements and rests.",
        port=terms.port,
        good=good,
    )


_MOVEMENT = _Kind(_stayed, msg("By eye a short break can be missed; how short, nobody knows."))


def _moved(need: Requirement, terms: EyeTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that what a port carries stayed in every movement of its plug, and at rest."""
    return _judge(_MOVEMENT, need, terms, soaks)


def _each_movement(need: Requirement, terms: EyeTerms) -> Message:
    demand = msg("What the port {port} carries stays at every movement, by eye", port=terms.port)
    return but_for(need, demand)


MOVED_BY_EYE = Rule(
    name="moved by eye",
    terms=EyeTerms,
    judge=_moved,
    demands=_each_movement,
    reads=Tried(),
    lacks=lacks.nothing,
    section=Section.HAND,
    bounds=Bounds.NONE,
    by_person=True,
)


def _there(good: int, tried: int, terms: EyeTerms) -> Message:
    return counted(
        tried,
        "The picture was there at {good} of 1 look.",
        "The picture was there at {good} of {count} looks.",
        good=good,
    )


_LOOK = _Kind(_there, msg("Between two looks nobody watched: what broke there was not seen."))


def _picture(need: Requirement, terms: EyeTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the picture was there whenever somebody looked."""
    return _judge(_LOOK, need, terms, soaks)


def _each_look(need: Requirement, terms: EyeTerms) -> Message:
    time = Amount(terms.asked_s, "s")
    return but_for(need, msg("The picture is there at every look by eye, one in {time}", time=time))


PICTURE_BY_EYE = Rule(
    name="picture by eye",
    terms=EyeTerms,
    judge=_picture,
    demands=_each_look,
    reads=Tried(),
    lacks=lacks.nothing,
    section=Section.PICTURE,
    bounds=Bounds.NONE,
    by_person=True,
)


def start_words(kind: str, number: int) -> Message:
    """Return a start that is looked at by eye as it is called."""
    return numbered_start(kind, number)


def there_words(start: Message, after_s: float) -> Message:
    """Ask whether the picture of a start is there."""
    return msg(
        "{start}, {time} after power came: is the picture there?",
        start=start,
        time=Amount(after_s, "s"),
    )


def gone_words(start: Message) -> Message:
    """Ask whether the picture went with the power."""
    return msg("{start}: is the picture gone?", start=start)
