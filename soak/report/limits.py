"""What was not tested or not shown, and the known limits: as prominent as what was."""

from collections.abc import Sequence

from soak.derive.alive import only_by_word
from soak.derive.course import course_of
from soak.evidence import Evidence
from soak.judge.judging import demanded
from soak.names import check_named, named
from soak.records import Json
from soak.report.context import ReportContext
from soak.report.given import day
from soak.report.model import Break, Untested
from soak.rules.core.verdict import Finding, Judgement, Verdict
from soak.states import LOSABLE
from soak.words import NOTHING_SAID, Amount, Message, joined, just, msg

_NOT_SHOWN = msg("not shown: the evidence has holes or lies within the measuring uncertainty")
_SHOWN = (Verdict.MET, Verdict.NOT_MET)

CAUTIONS = (
    msg("This is a function test. It is not an electrical safety test."),
    msg(
        "soak is not a safety device. What cuts the power when something goes wrong must be "
        "hardware built for that."
    ),
    msg(
        "Equipment running unattended can overheat or catch fire; lithium cells are not left "
        "charging or discharging unattended."
    ),
    msg("Mains work is for competent people; local codes and licensed practice come first."),
    msg(
        "A soak shows how the unit behaved while it ran, on this bench. It does not show how long "
        "it will last."
    ),
)


def not_tested(judgement: Judgement, soaks: Sequence[Evidence]) -> tuple[Untested, ...]:
    """List functions that nothing showed, key functions first, then requirements without answer."""
    found = _functions(judgement.findings, soaks[-1] if soaks else None)
    for finding in judgement.findings:
        what = demanded(finding.requirement)
        because = joined(" ", [finding.because, finding.aside])
        if finding.verdict is Verdict.NOT_TESTED:
            why = finding.why or msg("no instrument for it was wired")
            told = msg("not tested: {why}", why=why)
            found.append(Untested(what=what, why=told, because=because))
        elif finding.verdict is Verdict.NOT_SHOWN:
            found.append(Untested(what=what, why=_NOT_SHOWN, because=because))
    return tuple(sorted(found, key=lambda one: not one.key))


def _functions(findings: Sequence[Finding], evidence: Evidence | None) -> list[Untested]:
    functions = evidence.header.model_sheet.get("functions", {}) if evidence else {}
    told = []
    for name, function in functions.items():
        about = [one for one in findings if name in one.requirement.shows_repair]
        check = str(function.get("check", ""))
        if not check:
            why = msg("nothing on this bench exercises it")
        elif any(finding.verdict in _SHOWN for finding in about):
            continue
        elif about:
            why = msg("its check ran but did not show it")
        elif any(one.requirement.check == check and one.verdict in _SHOWN for one in findings):
            why = msg("the check '{check}' ran, but not on it", check=check_named(check))
        else:
            why = msg("the check '{check}' was not part of this soak", check=check_named(check))
        told.append(
            Untested(
                what=just(str(function.get("text", name))),
                why=why,
                key=bool(function.get("key")),
            )
        )
    return told


def shown_functions(findings: Sequence[Finding], model_sheet: Json) -> tuple[str, ...]:
    """List the functions that requirements showed to work, and none showed to fail."""
    told = []
    for name, function in model_sheet.get("functions", {}).items():
        about = {one.verdict for one in findings if name in one.requirement.shows_repair}
        if Verdict.MET in about and not about & {Verdict.NOT_MET, Verdict.NOT_SHOWN}:
            told.append(str(function.get("text", name)))
    return tuple(told)


def known_limits(
    judgement: Judgement, soaks: Sequence[Evidence], context: ReportContext
) -> tuple[Message, ...]:
    """Say plainly what is known to be wrong, and what this bench could not have seen."""
    told = [just(one) for one in context.known_defects]
    for finding in judgement.findings:
        if finding.verdict is Verdict.NOT_MET:
            told.append(msg("Does not meet: {demand}.", demand=demanded(finding.requirement)))
    if not soaks:
        return tuple(told)
    header = soaks[-1].header
    picture = header.model_sheet.get("picture_when_on")
    if picture == "may blank":
        told.append(
            msg("This model may blank its screen by itself, so a black picture is not counted.")
        )
    elif picture == "still":
        told.append(msg("This model shows a still picture, so a picture that freezes is not seen."))
    if header.fixture.get("stick", {}).get("path") == "bench_only":
        told.append(
            msg("The stick was in the bench's own computer: no USB port of the unit was tested.")
        )
    if any(only_by_word(course_of(evidence)) for evidence in soaks):
        told.append(
            msg("No instrument saw that the unit was on: that it was is the operator's word.")
        )
    if not header.fixture.get("capture"):
        told.append(msg("No capture was wired: nobody watched the picture."))
    if not header.fixture.get("probe"):
        told.append(msg("No thermometer was wired: no temperature was measured."))
    if any(evidence.header.simulated for evidence in soaks):
        told.append(
            msg("The instruments were simulated: this report says nothing about any real unit.")
        )
    return tuple(dict.fromkeys(told))


def smallest_breaks(soaks: Sequence[Evidence], context: ReportContext) -> tuple[Break, ...]:
    """Say beside "no dropout" how short a break the bench was proved to see."""
    found = []
    for one in context.challenges:
        smallest = msg("it saw none")
        if one.smallest_s is not None:
            smallest = just(Amount(one.smallest_s, "s"))
        found.append(
            Break(
                source=named(one.source),
                what=named(one.what),
                smallest=smallest,
                on=day(one.on, NOTHING_SAID),
            )
        )
    proved = {one.source for one in context.challenges}
    fixture = soaks[-1].header.fixture if soaks else {}
    for source in LOSABLE:
        if source in fixture and source not in proved:
            found.append(
                Break(
                    source=named(source),
                    what=msg("not proved on this bench"),
                    smallest=msg("unknown"),
                )
            )
    return tuple(found)
