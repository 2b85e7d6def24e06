"""What the operator answered: of the unit before power, and of what only a person can judge."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.spans import holds
from soak.errors import JournalError
from soak.frozen.shape import as_json, kept, read_as
from soak.marks import Answered, fact_as
from soak.records import Mark, Requirement
from soak.rules.core import lacks
from soak.rules.core.by_person import by_hand
from soak.rules.core.finding import Value, conclude, not_shown
from soak.rules.core.reads import NONE, Reads
from soak.rules.core.rule import Bounds, Harm, Rule, Section, Weight
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.terms import terms
from soak.words import NOTHING_SAID, Message, Said, begin, just, msg

USUAL: Mapping[str, Message] = {
    "closed": msg("Is the unit closed, with every screw back in?"),
    "damage": msg("Do you see cracks, burns, bulges or a damaged cord?"),
    "label": msg("Does the type label match the serial number shown above?"),
}
"""What is asked of every unit before power, unless a script asks otherwise. Common practice:
inspection comes first, and a test counts only after complete re-assembly."""
_ASKED = {str(question): question for question in USUAL.values()}


@terms
class AnsweredTerms:
    """What is asked, and the answer that is wanted."""

    wanted: str = "yes"
    text: str = ""


@kept
class _Detail:
    """What a finding says of an answer."""

    answer: str | float | None = "no answer"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer(Reads[AnsweredTerms]):
    """A question's answer: no value, no margin."""

    def found(self, finding: Finding) -> Message:
        if finding.verdict is Verdict.NOT_TESTED:
            return Reads.found(self, finding)
        answer = read_as(_Detail, finding.detail).answer
        return msg("{answer}", answer=answer_words(answer))

    def limit(self, need: Requirement, terms: AnsweredTerms | None) -> Message:
        if terms is None:
            return NONE
        return msg("{answer}", answer=answer_words(terms.wanted))

    def limit_kind(self, unit: str) -> str:
        return "the answer that is wanted"


def _demands(need: Requirement, terms: AnsweredTerms) -> Message:
    question = question_words(terms.text or need.id)
    wanted = answer_words(terms.wanted)
    return msg("{question} ({wanted})", question=question, wanted=wanted)


def question_words(question: str) -> Message:
    """Return a question as it is said; one of a script's own as it stands there."""
    return _ASKED.get(question) or just(question)


def _judge(need: Requirement, terms: AnsweredTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that a question was answered as wanted; the latest answer counts."""
    given = [
        (course, mark)
        for course in soaks
        for mark in course.marks(Answered.mark)
        if fact_as(mark, Answered).id == need.quantity
        and fact_as(mark, Answered).answer is not None
    ]
    if not given:
        return not_shown(need, msg("nobody answered"))
    course, mark = given[-1]
    answer = fact_as(mark, Answered).answer
    by = fact_as(mark, Answered).by
    words = {"answer": answer_words(answer), "wanted": answer_words(terms.wanted)}
    if by:
        because = msg(
            "Answered {answer} by {by}; {wanted} is wanted.",
            by=_WHO.get(by, by),
            answer=words["answer"],
            wanted=words["wanted"],
        )
    else:
        because = msg(
            "Answered {answer}; {wanted} is wanted.",
            answer=words["answer"],
            wanted=words["wanted"],
        )
    what = msg("answer: {answer}", answer=words["answer"])
    pointers = [Pointer(course.header.soak_id, mark.t_s, mark.t_s, what)]
    verdict = Verdict.MET if _same(answer, terms.wanted) else Verdict.NOT_MET
    value = Value(method=msg("The operator's word"))
    return conclude(
        need,
        verdict,
        because,
        found=value,
        pointers=pointers,
        detail=as_json(_Detail(answer=answer)),
    )


_WHO = {"operator": msg("operator")}
"""Who answered, where it was at the terminal of the soak; others by their names."""


def answer_words(answer: object) -> Said:
    """Return an answer as it is said: the program's own words in the reader's language."""
    known = {
        "yes": msg("yes"),
        "no": msg("no"),
        "done": msg("done"),
        "no answer": msg("no answer"),
    }
    return known.get(str(answer).strip().lower(), str(answer))


def _same(answer: object, wanted: object) -> bool:
    if isinstance(answer, str) and isinstance(wanted, str):
        return answer.strip().lower() == wanted.strip().lower()
    return answer == wanted


ANSWERED = Rule(
    name="answered",
    terms=AnsweredTerms,
    judge=_judge,
    demands=_demands,
    reads=Answer(),
    lacks=lacks.nothing,
    section=Section.HAND,
    bounds=Bounds.NONE,
    weight=Weight.BY_HAND,
    harm=Harm.SAFETY,
)


@terms
class JudgedTerms(AnsweredTerms):
    """A function of the unit that a person judges.

    Attributes
    ----------
    function : str
        It, in plain words.
    photograph : bool
        Whether a photograph must come with the answer.
    """

    function: str
    photograph: bool = False


def _judged(need: Requirement, terms: JudgedTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that a person found a function to work, in every soak in which one was asked.

    An answer is evidence where it has initials, the photograph that is wanted with it, and was
    given while the unit had power. One that speaks against the unit always counts, but of a dead
    unit of which nobody knows whether it had power.
    """
    given = [
        (course, mark)
        for course in soaks
        for mark in course.marks(Answered.mark)
        if fact_as(mark, Answered).id == need.quantity
        and fact_as(mark, Answered).answer in ("yes", "no")
        and not holds(mark.t_s, course.dead_spans)
    ]
    against = [
        answer for answer in given if not _same(fact_as(answer[1], Answered).answer, terms.wanted)
    ]
    whole = [answer for answer in given if not _lacks(terms, *answer)]
    if not against and not whole:
        lacking = _lacks(terms, *given[-1]) if given else msg("nobody answered")
        return not_shown(need, lacking)
    chosen = against or whole
    last = fact_as(chosen[-1][1], Answered)
    answer = answer_words(last.answer)
    by = by_hand([mark for _, mark in chosen])
    because = msg(
        "Judged {by}: {answer}; {wanted} is wanted.",
        by=by,
        answer=answer,
        wanted=answer_words(terms.wanted),
    )
    what = msg("answer: {answer}", answer=answer)
    pointers = [Pointer(c.header.soak_id, mark.t_s, mark.t_s, what) for c, mark in chosen]
    value = Value(method=msg("The operator's word"), judged_by=by)
    verdict = Verdict.NOT_MET if against else Verdict.MET
    detail = as_json(_Detail(answer=last.answer))
    return conclude(need, verdict, because, found=value, pointers=pointers, detail=detail)


def _lacks(terms: JudgedTerms, course: Course, mark: Mark) -> Message:
    """Say what an answer lacks to be evidence; empty if nothing."""
    if not fact_as(mark, Answered).initials:
        return msg("nobody put initials to the answer")
    photograph = fact_as(mark, Answered).photograph
    if terms.photograph and not photograph:
        return msg("no photograph came with the answer")
    if terms.photograph and not _is_kept(course, photograph):
        return msg("the photograph that came with the answer is not what was recorded any more")
    if not holds(mark.t_s, course.power):
        return msg("the unit had no power when it was answered")
    return NOTHING_SAID


def _is_kept(course: Course, name: str) -> bool:
    """Tell whether a kept file is still what was recorded."""
    kept = next((file for file in course.kept_files() if file.name == name), None)
    try:
        return kept is not None and bool(course.kept_bytes(kept))
    except JournalError:
        return False


def card_words(function: str, question: str) -> Message:
    """Return what a person is asked of a function; where a script has no words, the usual ones."""
    if question:
        return just(question)
    return msg("Try it as its buyer would: {function}. Does it work?", function=function)


def _works(need: Requirement, terms: JudgedTerms) -> Message:
    wanted = answer_words(terms.wanted)
    if not terms.text:
        question = card_words(terms.function, terms.text)
        return msg("{question} ({wanted})", question=question, wanted=wanted)
    function = begin(terms.function)
    return msg(
        "{function}: {question} ({wanted})", function=function, question=terms.text, wanted=wanted
    )


JUDGED_BY_HAND = Rule(
    name="judged by hand",
    terms=JudgedTerms,
    judge=_judged,
    demands=_works,
    reads=Answer(),
    lacks=lacks.nothing,
    section=Section.HAND,
    bounds=Bounds.NONE,
    by_person=True,
)
