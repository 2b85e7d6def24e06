"""Whether a pack of files that the unit copied came across whole."""

from collections import Counter
from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.events.wrong_data import carried_words
from soak.derive.seeing.coverage import coverage
from soak.marks import CarriedFile, fact_as
from soak.records import Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import NOTHING, Value, conclude, not_shown
from soak.rules.core.port import PortTerms
from soak.rules.core.reads import Counted
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.terms import terms
from soak.words import Amount, Message, counted, msg

_METHOD = msg("Each byte compared; files known by their own data")
Told = tuple[Course, Mark]


@terms
class CarriedTerms(PortTerms):
    """How many files the pack has that are not empty, and how large it is, B."""

    files: int = 0
    size_bytes: int = 0


def _judge(need: Requirement, terms: CarriedTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that every file that is not empty came across the port once, and all of them whole.

    One changed copy counts against the unit, unless the stick no longer holds the original as it
    was packed. A file that is nowhere, or only where it was packed, is a hole.
    """
    crossings = [
        (course, mark)
        for course in soaks
        if course.header.fixture.port_of("stick") == terms.port
        for mark in course.marks(CarriedFile.mark)
        if fact_as(mark, CarriedFile).length_bytes
    ]
    changed = [
        crossing for crossing in crossings if fact_as(crossing[1], CarriedFile).came == "changed"
    ]
    against = [crossing for crossing in changed if fact_as(crossing[1], CarriedFile).original_whole]
    if against:
        return _changed(need, against, several=len(soaks) > 1)
    best = _best(need, soaks, crossings)
    if changed and best.verdict != Verdict.MET:
        why = msg(
            "the stick itself no longer holds {file} as it was packed; take another stick",
            file=fact_as(changed[0][1], CarriedFile).name,
        )
        return not_shown(need, why)
    return best


def _changed(need: Requirement, against: Sequence[Told], *, several: bool) -> Finding:
    damaged_bytes = float(sum(_damaged_bytes(mark) for _, mark in against))
    seen: Counter[str] = Counter()
    for _, mark in against:
        seen.update(_kinds(mark))
    kinds = carried_words(seen)
    soaks = ", ".join(sorted({course.header.soak_id for course, _ in against}))
    size = Amount(damaged_bytes, "B")
    if several:
        because = counted(
            len(against),
            "1 file came changed in {soaks}, {size} of wrong data ({kinds}).",
            "{count} files came changed in {soaks}, {size} of wrong data ({kinds}).",
            soaks=soaks,
            size=size,
            kinds=kinds,
        )
    else:
        because = counted(
            len(against),
            "1 file came changed, {size} of wrong data ({kinds}).",
            "{count} files came changed, {size} of wrong data ({kinds}).",
            size=size,
            kinds=kinds,
        )
    value = Value(damaged_bytes, margin=-damaged_bytes, method=_METHOD)
    return conclude(need, Verdict.NOT_MET, because, found=value, pointers=_pointers(against))


def _best(need: Requirement, soaks: Sequence[Course], told: Sequence[Told]) -> Finding:
    """Judge by the carry that brought most; pieces of several are never put together."""
    of = {id(course): [mark for whose, mark in told if whose is course] for course, _ in told}
    if not of:
        return not_shown(need, msg("nothing was carried"))
    newest_first = [soak for soak in reversed(soaks) if id(soak) in of]
    course = max(newest_first, key=lambda one: len(_whole(of[id(one)])))
    marks = of[id(course)]
    whole = _whole(marks)
    covered = coverage(course, need, ())
    detail = {"files": len(marks), "whole": len(whole)}
    if not covered.enough:
        return not_shown(need, covered.why, covered=[covered], detail=detail)
    pointers = _pointers([(course, mark) for mark in whole[:1]])
    value = Value(0.0, margin=0.0, method=_METHOD)
    if len(whole) < len(marks):
        brought = value if whole else NOTHING
        why = _lacking(marks, len(whole))
        return not_shown(need, why, brought, pointers=pointers, detail=detail, covered=[covered])
    because = _came(whole, course.header.soak_id if len(of) > 1 else "")
    return conclude(
        need, Verdict.MET, because, found=value, pointers=pointers, detail=detail, covered=[covered]
    )


def _whole(marks: Sequence[Mark]) -> list[Mark]:
    return [mark for mark in marks if fact_as(mark, CarriedFile).came == "whole"]


def _came(whole: Sequence[Mark], soak_id: str) -> Message:
    """Say what came whole; in which soak, if there are several."""
    size = Amount(sum(float(fact_as(mark, CarriedFile).length_bytes) for mark in whole), "B")
    if not soak_id:
        return counted(
            len(whole),
            "1 file, {size}, came across whole.",
            "{count} files, {size}, came across whole.",
            size=size,
        )
    return counted(
        len(whole),
        "1 file, {size}, came across whole in {soak}.",
        "{count} files, {size}, came across whole in {soak}.",
        size=size,
        soak=soak_id,
    )


def _lacking(marks: Sequence[Mark], whole: int) -> Message:
    in_place = sum(fact_as(mark, CarriedFile).came == "in place" for mark in marks)
    missing = [mark for mark in marks if fact_as(mark, CarriedFile).came != "whole"]
    unreadable = sum(bool(fact_as(mark, CarriedFile).unreadable) for mark in missing)
    if unreadable:
        return counted(
            unreadable,
            "the stick has a bad place: 1 file of {count_of} cannot be read from it; let the unit "
            "copy to another stick, unpack that",
            "the stick has bad places: {count} files of {count_of} cannot be read from it; let the "
            "unit copy to another stick, unpack that",
            count_of=len(marks),
        )
    if in_place == len(marks):
        return msg("every file lies where it was packed; let the unit copy them")
    return counted(
        len(marks),
        "{lacking} of 1 file did not come; copy the rest, unpack again",
        "{lacking} of {count} files did not come; copy the rest, unpack again",
        lacking=len(marks) - whole,
    )


def _damaged_bytes(mark: Mark) -> int:
    copies = fact_as(mark, CarriedFile).copies
    return sum(copy["damaged_bytes"] for copy in copies if not copy["original"])


def _kinds(mark: Mark) -> Counter[str]:
    """Return at how many places each kind is wrong in the copies of a file."""
    kinds: Counter[str] = Counter()
    for copy in fact_as(mark, CarriedFile).copies:
        if not copy["original"]:
            kinds.update(copy["kinds"])
    return kinds


def _pointers(told: Sequence[Told]) -> list[Pointer]:
    return [
        Pointer(
            course.header.soak_id,
            mark.t_s,
            mark.t_s,
            msg("file {file}", file=fact_as(mark, CarriedFile).name),
        )
        for course, mark in told
    ]


def _all_whole(need: Requirement, terms: CarriedTerms) -> Message:
    return counted(
        terms.files,
        "The 1 file, {size}, carried over the {port} is whole",
        "All {count} files, {size}, carried over the {port} are whole",
        size=Amount(terms.size_bytes, "B"),
        port=terms.called or terms.port,
    )


CARRIED_WHOLE = Rule(
    name="carried whole",
    terms=CarriedTerms,
    judge=_judge,
    demands=_all_whole,
    reads=Counted(),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.NONE,
    unit="B",
)
