"""What was not tested or not shown, and the known limits: as prominent as what was."""

from collections.abc import Sequence

from soak.derive.course import course_of
from soak.derive.seeing.alive import only_by_word
from soak.evidence import Evidence
from soak.instruments import LOSABLE
from soak.judge.believed import doubt
from soak.judge.functions import about, some_of
from soak.judge.judging import demanded, rule_of
from soak.names import named
from soak.report.contents.context import ReportContext
from soak.report.contents.given import day
from soak.report.contents.wording import beside_judge
from soak.report.model import Break, Untested
from soak.rules.core.rule import Section
from soak.rules.core.verdict import Finding, Judgement, Verdict
from soak.unsaid import MUST_SAY, unsaid
from soak.words import NOTHING_SAID, Amount, Message, joined, just, msg

_NOT_SHOWN = msg("not shown: the evidence has holes or lies within the measuring uncertainty")

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
    left_out = [
        Untested(what=just(function.text), why=function.why, key=function.key)
        for function in judgement.functions
        if function.verdict in (Verdict.NOT_TESTED, Verdict.NOT_SHOWN)
    ]
    for finding in judgement.findings:
        what = demanded(finding.requirement)
        because = joined(" ", [finding.because, finding.aside])
        if finding.verdict is Verdict.NOT_TESTED:
            why = finding.why or msg("no instrument for it was wired")
            left_out.append(Untested(what=what, why=why, because=because))
        elif finding.verdict is Verdict.NOT_SHOWN:
            left_out.append(
                Untested(what=what, why=_why_not_shown(finding, soaks), because=because)
            )
    return tuple(sorted(left_out, key=lambda untested: not untested.key))


def _why_not_shown(finding: Finding, soaks: Sequence[Evidence]) -> Message:
    """Say why for everybody; of the bench's own troubles only what its instruments are."""
    doubts = [doubt(finding.requirement, course_of(soak)) for soak in soaks[-1:]]
    if any(doubts):
        return msg("not shown: {why}", why=doubts[0])
    return _NOT_SHOWN


def shown_functions(judgement: Judgement) -> tuple[Message, ...]:
    """List the functions that requirements showed to work, and none showed to fail.

    Beside one that only people judged stands who did.
    """
    return tuple(
        beside_judge(
            function.text,
            [met for met in about(function.name, judgement.findings) if met.verdict is Verdict.MET],
        )
        for function in judgement.functions
        if function.verdict is Verdict.MET
    )


def narrowed_late(judgement: Judgement, context: ReportContext) -> tuple[Message, ...]:
    """Say that functions which the details leave out were still claimed when the soak began."""
    late = [
        function.text
        for function in judgement.functions
        if function.key and function.verdict is Verdict.NOT_TESTED
        if function.name in context.left_out and not function.left_out
    ]
    if not late:
        return ()
    sentence = msg(
        "The details leave out '{functions}' only since this soak began; that counts from the next "
        "soak on.",
        functions=some_of(late),
    )
    return (sentence,)


def known_limits(
    judgement: Judgement, soaks: Sequence[Evidence], context: ReportContext
) -> tuple[Message, ...]:
    """Say plainly what is known to be wrong, and what this bench could not have seen."""
    sentences = [*map(just, context.known_defects), *judgement.withdrawn]
    for finding in judgement.findings:
        if finding.verdict is Verdict.NOT_MET:
            sentences.append(msg("Does not meet: {demand}.", demand=demanded(finding.requirement)))
    if not soaks:
        return tuple(sentences)
    header = soaks[-1].header
    sentences += [
        msg("Not stated: {what}.", what=MUST_SAY[key]) for key in unsaid(header.model_sheet)
    ]
    picture = header.model_sheet.picture_when_on
    if picture == "may blank":
        sentences.append(
            msg("This model may blank its screen by itself, so a black picture is not counted.")
        )
    elif picture == "still":
        sentences.append(
            msg("This model shows a still picture, so a picture that freezes is not seen.")
        )
    if header.fixture.stick_path == "bench_only":
        sentences.append(
            msg("The stick was in the bench's own computer: no USB port of the unit was tested.")
        )
    if any(only_by_word(course_of(evidence)) for evidence in soaks):
        sentences.append(
            msg("No instrument saw that the unit was on: that it was is the operator's word.")
        )
    if not header.fixture.capture:
        sentences.append(_without_capture(judgement))
    if not header.fixture.probes:
        sentences.append(msg("No thermometer was wired: no temperature was measured."))
    if any(evidence.header.simulated for evidence in soaks):
        sentences.append(
            msg("The instruments were simulated: this report says nothing about any real unit.")
        )
    return tuple(dict.fromkeys(sentences))


def _without_capture(judgement: Judgement) -> Message:
    eyes = (Section.STARTS, Section.PICTURE)
    rules = [rule_of(finding.requirement) for finding in judgement.findings if finding.judged_by]
    if any(rule is not None and rule.section in eyes for rule in rules):
        return msg(
            "No capture was wired: the picture was looked at by eye, which misses what is short or "
            "falls between two looks."
        )
    return msg("No capture was wired: nobody watched the picture.")


def smallest_breaks(soaks: Sequence[Evidence], context: ReportContext) -> tuple[Break, ...]:
    """Say beside "no dropout" how short a break the bench was proved to see."""
    breaks = []
    for challenge in context.challenges:
        smallest = msg("it saw none")
        if challenge.smallest_s is not None:
            smallest = just(Amount(challenge.smallest_s, "s"))
        breaks.append(
            Break(
                source=named(challenge.source),
                what=named(challenge.what),
                smallest=smallest,
                on=day(challenge.on, NOTHING_SAID),
            )
        )
    proved = {challenge.source for challenge in context.challenges}
    wired = soaks[-1].header.fixture.wired if soaks else {}
    for source in LOSABLE:
        if source in wired and source not in proved:
            breaks.append(
                Break(
                    source=named(source),
                    what=msg("not proved on this bench"),
                    smallest=msg("unknown"),
                )
            )
    return tuple(breaks)
