"""All soaks since the repair, so that passing on the third try is seen."""

from collections import Counter
from collections.abc import Sequence

from soak.evidence import Evidence
from soak.frozen.references import EarlierSoak
from soak.names import named
from soak.report.contents.context import ReportContext
from soak.report.contents.given import day
from soak.report.model import Listed
from soak.rules.core.verdict import Judgement
from soak.words import NOTHING_SAID, Message, joined, msg

_ORDINALS = (
    msg("First"),
    msg("Second"),
    msg("Third"),
    msg("Fourth"),
    msg("Fifth"),
    msg("Sixth"),
    msg("Seventh"),
    msg("Eighth"),
    msg("Ninth"),
)


def list_soaks(
    judgement: Judgement, soaks: Sequence[Evidence], context: ReportContext
) -> tuple[Listed, ...]:
    """List the soaks of the job in order of time, the judged ones and those the ledger knows.

    The judged soak's own grade is that of the whole job, so it stands at the latest one only.
    """
    earlier: dict[str, EarlierSoak] = {}
    for evidence in soaks:
        for entry in evidence.header.references.earlier_soaks:
            earlier[entry.soak_id] = entry
    earlier |= {earlier_soak.soak_id: earlier_soak for earlier_soak in context.earlier_soaks}
    earlier.pop("", None)
    here = []
    for at, evidence in enumerate(soaks):
        header = evidence.header
        last = at == len(soaks) - 1
        known = earlier.pop(header.soak_id, None)
        before = named(known.grade) if known else msg("part of this grade")
        begun = evidence.sessions()
        here.append(
            Listed(
                soak_id=header.soak_id,
                script=named(header.script.name),
                on=day(begun[0].utc[:10] if begun else "", NOTHING_SAID),
                grade=named(judgement.grade) if last else before,
                judged_here=True,
            )
        )
    rest = sorted(earlier.values(), key=lambda one: (one.on, one.soak_id))
    return (*map(_listed, rest), *here)


def _listed(soak: EarlierSoak) -> Listed:
    return Listed(
        soak_id=soak.soak_id,
        script=named(soak.script),
        on=day(soak.on, NOTHING_SAID),
        grade=named(soak.grade),
        judged_here=False,
    )


def in_one_line(listed: Sequence[Listed]) -> Message:
    """Say which soak since the repair this is and how the ones before it ended."""
    count = len(listed)
    if count == 0:
        return msg("No soak since the repair.")
    if count == 1:
        return msg("First and only soak since the repair.")
    number = _ORDINALS[count - 1] if count <= len(_ORDINALS) else msg("No. {count}:", count=count)
    before = [soak.grade or msg("not graded") for soak in listed[:-1]]
    if count == 2:
        return msg(
            "{number} soak since the repair; the one before it: {grade}.",
            number=number,
            grade=before[0],
        )
    sentences = [joined(" ", [times, grade]) for grade, times in Counter(before).items()]
    return msg(
        "{number} soak since the repair; the {count} before it: {grades}.",
        number=number,
        count=count - 1,
        grades=joined(", ", sentences),
    )
