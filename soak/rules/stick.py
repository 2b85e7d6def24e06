"""Whether the stick stayed in sight of the unit's port."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.events.bouts import placed
from soak.derive.events.faults import port_faults
from soak.derive.jobs_before import FailureKind
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import common, holds, minus, total_s
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bouts import by_bouts, how_often
from soak.rules.core.finding import Value, not_shown, point_at, settle
from soak.rules.core.port import PortTerms, at_words, on_units_port
from soak.rules.core.reads import Counted, rate
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding
from soak.states import lost
from soak.words import Amount, Message, counted, msg, paragraph, sentence

_METHOD = msg(
    "Losses counted; one-sided upper bound of the rate per hour after NIST/SEMATECH "
    "e-Handbook 8.4.5.1"
)


@on_units_port
def _judge(need: Requirement, terms: PortTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the stick never went while the unit had power and was started."""
    allowed = need.limit or 0.0
    pointers = []
    covered = []
    watched = []
    gone = []
    for course in soaks:
        windows = course.windows(need.stretch)
        here = [fault for fault in port_faults(course, "stick") if holds(fault.from_s, windows)]
        gone.append([(fault.from_s, fault.to_s) for fault in here])
        pointers += point_at(course, here)
        unseen = course.unseen("stick", lost("stick", course.header.model_sheet))
        covered.append(coverage(course, need, unseen))
        watched.append(minus(common(windows, course.started), unseen))
    number = sum(map(len, gone))
    seen_s = sum(map(total_s, watched))
    if seen_s <= 0 and not number:
        why = covered[-1].why or msg("the stick was never seen while the unit was started")
        return not_shown(need, why)
    often = how_often(need, placed(zip(watched, gone, strict=True)))
    time = Amount(seen_s, "s")
    text = counted(
        number,
        "1 loss of the stick in {time}",
        "{count} losses of the stick in {time}",
        none=msg("no loss of the stick in {time}", time=time),
        time=time,
    )
    margin = allowed - number
    value = Value(
        number, bound_high=often.most_per_h, margin=margin, method=by_bouts(_METHOD), over=seen_s
    )
    because = paragraph(sentence(text), often.told)
    return settle(
        need,
        number <= allowed,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=often.detail,
    )


def _stays(need: Requirement, terms: PortTerms) -> Message:
    return msg("The stick {at_port} stays while there is power", at_port=at_words(terms))


STICK_STAYED = Rule(
    name="stick stayed",
    terms=PortTerms,
    judge=_judge,
    demands=_stays,
    reads=Counted(bound_words=rate),
    lacks=lacks.time,
    section=Section.DATA,
    bounds=Bounds.RATE,
    anywhere=True,
    failures=FailureKind.PORT,
)
