"""What short breaks of the supply did to the unit."""

import math
from collections import Counter
from collections.abc import Mapping, Sequence

from soak.derive.course import Course
from soak.derive.electric.supply import not_as_set
from soak.derive.said import degree_words
from soak.derive.seeing.coverage import Coverage, coverage, dead_in
from soak.derive.spans import holds, touching
from soak.marks import DEGREES, ShortBreak, fact_as, facts
from soak.records import Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.reads import Tried
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import terms
from soak.words import Message, Stated, counted, joined, msg, paragraph

_METHOD = msg("Short breaks counted by what they did, in the four degrees of IEC 61000-4-11")


@terms
class BreakTerms:
    """Which breaks are made, and what they may do.

    Attributes
    ----------
    promised : int or None
        So many breaks are made; None: any number.
    no_effect_up_to_s : float or None
        Only breaks asked to be so short count, and any effect is too much, s; None: all count, and
        the unit may recover by itself.
    lengths_s : tuple of float
        Lengths that are asked for, s;
    shortest_s, longest_s : float or None
        where there are none, the lengths between which chance decides, s.
    accuracy_v : float or None
        Half-width of the error of the supply that is broken, V; None: it is no supply that is set.
    """

    promised: int | None = None
    no_effect_up_to_s: float | None = None
    lengths_s: tuple[float, ...] = ()
    shortest_s: float | None = None
    longest_s: float | None = None
    accuracy_v: float | None = None


def _judge(need: Requirement, terms: BreakTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` short breaks did more than the unit mends by itself."""
    upto_s = terms.no_effect_up_to_s
    bad = DEGREES[2:] if upto_s is None else DEGREES[1:]
    breaks: list[Mark] = []
    pointers: list[Pointer] = []
    covered: list[Coverage] = []
    for course in soaks:
        made = _seen(need, course)
        sentences = [
            not_as_set(fact_as(mark, ShortBreak), terms.accuracy_v or 0.0) for mark in made
        ]
        seen = [mark for mark, why in zip(made, sentences, strict=True) if not why]
        here = [mark for mark in seen if upto_s is None or _length_s(mark) <= upto_s]
        breaks += here
        pointers += [
            Pointer(course.header.soak_id, mark.t_s, mark.t_s, _told(mark))
            for mark in here
            if fact_as(mark, ShortBreak).degree in bad
        ]
        doubt = next((why for why in sentences if why), None)
        covered.append(_covered(need, terms, course, made=len(here), doubt=doubt))
    if not breaks:
        why = covered[-1].why or msg("no short break was made")
        return not_shown(need, why)
    counts = Counter(fact_as(mark, ShortBreak).degree for mark in breaks)
    worse = len(pointers)
    allowed = need.limit or 0.0
    because = paragraph(
        counted(len(breaks), "1 short break was made.", "{count} short breaks were made."),
        *_what_they_did(counts),
        msg("First: {what}.", what=pointers[0].what) if pointers else None,
    )
    value = Value(worse, margin=allowed - worse, method=_METHOD, over=len(breaks))
    detail = {
        **{word: counts[word] for word in DEGREES},
        "trials": len(breaks),
        "by_length": _by_length(breaks),
    }
    return settle(
        need,
        worse <= allowed,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )


def _what_they_did(counts: Mapping[str, int]) -> list[Message]:
    said = {
        "no effect": counted(counts["no effect"], "1 had no effect.", "{count} had no effect."),
        "recovers by itself": msg(
            "After {count} it recovered by itself.", count=counts["recovers by itself"]
        ),
        "needs a hand": msg("After {count} it needed a hand.", count=counts["needs a hand"]),
        "does not recover": msg(
            "After {count} it did not recover.", count=counts["does not recover"]
        ),
    }
    return [said[degree] for degree in DEGREES if counts[degree]]


def _seen(need: Requirement, course: Course) -> list[Mark]:
    """Return the breaks of a stretch that the bench saw from beginning to end."""
    windows = course.windows(need.stretch)
    blind = course.blind("capture")
    return [
        mark
        for mark, broken in facts(course, ShortBreak)
        if holds(mark.t_s, windows)
        and touching(mark.t_s if broken.from_s is None else broken.from_s, mark.t_s, blind) is None
    ]


def _covered(
    need: Requirement, terms: BreakTerms, course: Course, made: int, doubt: Message | None
) -> Coverage:
    plain = coverage(course, need, ())
    promised = terms.promised
    why = plain.why
    if promised is not None and made < math.ceil(promised * (1 - need.blind_allowed)):
        few = msg(
            "only {made} of {promised} short breaks were seen to their end",
            made=made,
            promised=promised,
        )
        why = why or dead_in(course, need.stretch) or joined("; ", [few, doubt])
    return Coverage(plain.promised_s, plain.observed_s, 0.0, longest_blind_s=0.0, why=why)


def _length_s(mark: Mark) -> float:
    broken = fact_as(mark, ShortBreak)
    return broken.off_s if broken.asked_s is None else broken.asked_s


def _told(mark: Mark) -> Message:
    return msg(
        "{what} after a break of {time}",
        what=degree_words(fact_as(mark, ShortBreak).degree),
        time=Stated(_length_s(mark), "s"),
    )


def _by_length(breaks: Sequence[Mark]) -> list[dict[str, object]]:
    """Return the degrees of each stated length; breaks of random length have none."""
    cuts = [fact_as(mark, ShortBreak) for mark in breaks]
    lengths = sorted({cut.asked_s for cut in cuts if cut.asked_s is not None})
    return [
        {
            "asked_s": length_s,
            "longest_s": max(cut.off_s for cut in here),
            "degrees": dict(Counter(cut.degree for cut in here)),
        }
        for length_s in lengths
        if (here := [cut for cut in cuts if cut.asked_s == length_s])
    ]


def _goes_on(need: Requirement, terms: BreakTerms) -> Message:
    if terms.no_effect_up_to_s is not None:
        return msg(
            "Breaks of its supply of up to {time} have no effect, as its maker states",
            time=Stated(terms.no_effect_up_to_s, "s"),
        )
    if terms.lengths_s:
        lengths = joined(", ", [Stated(length_s, "s") for length_s in terms.lengths_s])
        return msg(
            "After breaks of its supply of {lengths} it goes on or recovers by itself",
            lengths=lengths,
        )
    if terms.shortest_s is None or terms.longest_s is None:
        return msg("After short breaks of its supply it goes on or recovers by itself")
    return msg(
        "After breaks of its supply of {shortest} to {longest} it goes on or recovers by itself",
        shortest=Stated(terms.shortest_s, "s"),
        longest=Stated(terms.longest_s, "s"),
    )


SHORT_BREAKS = Rule(
    name="short breaks",
    terms=BreakTerms,
    judge=_judge,
    demands=_goes_on,
    reads=Tried(),
    lacks=lacks.time,
    section=Section.SUPPLY,
    bounds=Bounds.NONE,
)
