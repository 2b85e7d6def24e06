"""Findings as a report prints them: what was found, the limit, the margin, and the bound."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any

from soak.judge.judging import demanded, rule_of
from soak.names import named
from soak.records import Requirement
from soak.report.model import Count, Pointer, Tested
from soak.rules.core.breaks import PER_HOUR
from soak.rules.core.reads import NONE, Reads
from soak.rules.core.rule import Section
from soak.rules.core.verdict import Finding, Verdict
from soak.words import NOTHING_SAID, Message, Said, all_of, begin, joined, just, msg

VERDICTS: Mapping[str, Message] = {
    str(sentence): sentence
    for sentence in (msg("met"), msg("not met"), msg("not shown"), msg("not tested"))
}
"""What came of a requirement, as it is said."""
_PLAIN: Reads[Any] = Reads()
"""How a finding is read whose rule this version does not know: it was not judged."""


def as_tested(finding: Finding) -> Tested:
    """Return a finding as the report prints it."""
    need = finding.requirement
    reads = reads_of(finding.requirement)
    return Tested(
        id=need.id,
        check=need.check,
        stretch=named(need.stretch),
        text=demanded(need),
        verdict=finding.verdict.value,
        found=joined(", ", [reads.found(finding), finding.judged_by]),
        limit=limit_words(need),
        margin=reads.margin(finding),
        bound=begin(reads.bound(finding)),
        because=joined(" ", [finding.because, finding.aside]),
        method=finding.method,
        unit=need.unit,
        value=finding.value,
        limit_value=need.limit,
        margin_value=finding.margin,
        bound_low=finding.bound_low,
        bound_high=finding.bound_high,
        confidence=need.confidence,
        pointers=tuple(
            Pointer(
                soak_id=pointer.soak_id, from_s=pointer.from_s, to_s=pointer.to_s, what=pointer.what
            )
            for pointer in finding.pointers
        ),
    )


def beside_judge(told: Said, findings: Sequence[Finding]) -> Message:
    """Say what findings show, and who judged it where only people did."""
    who = all_of(dict.fromkeys(finding.judged_by for finding in findings))
    if not findings or not all(finding.judged_by for finding in findings):
        return just(told)
    return msg("{what} ({who})", what=told, who=who)


def reads_of(need: Requirement) -> Reads[Any]:
    """Return how the findings of a requirement are read."""
    rule = rule_of(need)
    return rule.reads if rule is not None else _PLAIN


def place_of(need: Requirement) -> int:
    """Return the place of a requirement's section on a page; without a known section the last."""
    sections = list(Section)
    rule = rule_of(need)
    return len(sections) if rule is None else sections.index(rule.section)


def limit_words(need: Requirement) -> Message:
    """Say the limit of a requirement; of a rule that is not known, without its direction."""
    rule = rule_of(need)
    if rule is None:
        return NONE if need.limit is None else _PLAIN.value(need.limit, need)
    terms = None
    with suppress(ValueError):
        terms = rule.terms_of(need)
    return rule.reads.limit(need, terms)


def counts_of(findings: Sequence[Finding]) -> tuple[Count, ...]:
    """Return the counts to be read large, over all parts of the script.

    The bounds stay those of each part: warm and cold starts need not share one chance, so no
    single bound is made of them; all stand beside their requirements.
    """
    alike: dict[tuple[int, str], list[Finding]] = {}
    for finding in findings:
        if finding.value is not None and finding.verdict is not Verdict.NOT_TESTED:
            need = finding.requirement
            alike.setdefault((id(reads_of(need).counts), need.quantity), []).append(finding)
    return tuple(
        Count(large=large, small=bounds([part for part in parts if _is_counted(part)] or parts))
        for parts in alike.values()
        if (large := reads_of(parts[0].requirement).large(parts))
    )


def _is_counted(finding: Finding) -> bool:
    """Tell a count from a rate, which has its own bound beside its demand."""
    return finding.requirement.unit != PER_HOUR


def bounds(parts: Sequence[Finding]) -> Message:
    """Return the bound of the part that shows most and of each that failed, as what it is."""
    bounds = [(part, reads_of(part.requirement).bound(part)) for part in parts]
    bounded = [(part, words) for part, words in bounds if words]
    if not bounded:
        return NOTHING_SAID
    tightest, _ = min(bounded, key=lambda pair: pair[0].bound_high or 0.0)
    return joined(
        "; ",
        (
            _in_stretch(part.requirement.stretch, words)
            for part, words in bounded
            if part is tightest or part.value
        ),
    )


def _in_stretch(stretch: str, words: Message) -> Message:
    if not stretch:
        return begin(words)
    return msg("{stretch}: {bound}", stretch=named(stretch), bound=words)
