"""What the reason of a failed grade names: the worst kind of failure, summed over all its parts."""

from collections.abc import Hashable, Sequence

from soak.judge.judging import rule_of, weight_of
from soak.rules.core.rule import HARM_OF_SECTION, Harm, Weight
from soak.rules.core.verdict import Finding
from soak.words import Message, msg, paragraph, sentence


def worst_kind(failed: Sequence[Finding]) -> Sequence[Finding]:
    """Return the findings of the worst kind of failure, in the order of the script.

    Parameters
    ----------
    failed : sequence of Finding
        Those that are not met; at least one.
    """
    kinds: dict[Hashable, list[Finding]] = {}
    for finding in failed:
        kinds.setdefault(_kind(finding), []).append(finding)
    return min(kinds.values(), key=lambda parts: _rank(parts[0]))


def summed(parts: Sequence[Finding]) -> Message:
    """Say what findings of one kind found, all together."""
    first = parts[0]
    if len(parts) == 1:
        return first.because
    rule = rule_of(first.requirement)
    assert rule is not None  # one that no rule judged cannot have failed
    whole = rule.reads.counts.failed(parts)
    where = next((one.pointers[0].what for one in parts if one.pointers), "")
    if whole:
        return paragraph(sentence(whole), msg("First: {what}.", what=where) if where else None)
    found = rule.reads.together(parts, first)
    return msg("{because} In all parts together: {found}.", because=first.because, found=found)


def _kind(finding: Finding) -> Hashable:
    """Return what tells a kind: what adds up is counted in the same way, of the same source."""
    rule = rule_of(finding.requirement)
    if rule is None or not rule.reads.counts.adds_up:
        return finding.requirement.id
    return id(rule.reads.counts), rule.section, finding.requirement.quantity


def _rank(finding: Finding) -> tuple[bool, int]:
    """Rank a failure, the worst first; what only follows from another fault comes last."""
    rule = rule_of(finding.requirement)
    follows = weight_of(finding) is Weight.FOLLOWS
    if rule is None:
        return follows, len(Harm)
    return follows, list(Harm).index(rule.harm or HARM_OF_SECTION[rule.section])
