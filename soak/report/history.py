"""All soaks since the repair, so that passing on the third try is seen."""

from collections.abc import Sequence

from soak.evidence import Evidence
from soak.report.context import ReportContext
from soak.report.model import Listed
from soak.rules.core.verdict import Judgement

_ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth", "Ninth")


def list_soaks(
    judgement: Judgement, soaks: Sequence[Evidence], context: ReportContext
) -> tuple[Listed, ...]:
    """List the soaks of the job in order of time, the judged ones and those the ledger knows.

    The judged soak's own grade is that of the whole job, so it stands at the latest one only.
    """
    earlier: dict[str, Listed] = {}
    for evidence in soaks:
        for entry in evidence.header.references.get("earlier_soaks", []):
            _add(earlier, {key: str(entry.get(key, "")) for key in _KEYS})
    for known in context.earlier_soaks:
        _add(earlier, {key: getattr(known, key) for key in _KEYS})
    here = []
    for at, evidence in enumerate(soaks):
        header, last = evidence.header, at == len(soaks) - 1
        known_here = earlier.pop(header.soak_id, None)
        grade = (
            judgement.grade if last else (known_here.grade if known_here else "part of this grade")
        )
        begun = evidence.sessions()
        here.append(
            Listed(
                soak_id=header.soak_id,
                script=str(header.script.get("name", "")),
                on=begun[0].utc[:10] if begun else "",
                grade=grade,
                judged_here=True,
            )
        )
    rest = sorted(earlier.values(), key=lambda one: (one.on, one.soak_id))
    return tuple(rest + here)


_KEYS = ("soak_id", "script", "grade", "on")


def _add(into: dict[str, Listed], entry: dict[str, str]) -> None:
    if entry["soak_id"]:
        into[entry["soak_id"]] = Listed(**entry, judged_here=False)


def in_one_line(listed: Sequence[Listed]) -> str:
    """Say which soak since the repair this is and how the ones before it ended."""
    count = len(listed)
    if count == 0:
        return "No soak since the repair."
    if count == 1:
        return "First and only soak since the repair."
    name = _ORDINALS[count - 1] if count <= len(_ORDINALS) else f"No. {count}:"
    before = [one.grade for one in listed[:-1]]
    if count == 2:
        return f"{name} soak since the repair; the one before it: {before[0] or 'not graded'}."
    told = [f"{before.count(grade)} {grade or 'not graded'}" for grade in dict.fromkeys(before)]
    return f"{name} soak since the repair; the {count - 1} before it: {', '.join(told)}."
