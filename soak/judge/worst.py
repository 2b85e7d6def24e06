"""What failed, by kinds of failure: each summed over all its parts, the worst kind first."""

from collections.abc import Hashable, Sequence

from soak.judge.judging import demanded, rule_of, weight_of
from soak.rules.core.rule import HARM_OF_SECTION, Harm, Weight
from soak.rules.core.verdict import Finding
from soak.words import NOTHING_SAID, Message, msg, paragraph, sentence


def kinds_of(failed: Sequence[Finding]) -> list[list[Finding]]:
    """Put what failed together by kind, the worst kind first.

    Parameters
    ----------
    failed : sequence of Finding
        Those that are not met, in the order of the script.
    """
    kinds: dict[Hashable, list[Finding]] = {}
    for finding in failed:
        kinds.setdefault(_kind(finding), []).append(finding)
    return sorted(kinds.values(), key=lambda parts: rank(parts[0]))


def summed(parts: Sequence[Finding]) -> Message:
    """Say what findings of one kind found, all together, in whole sentences."""
    worst = furthest(parts)
    whole = _counted(parts)
    if len(parts) == 1 or not (whole or _adds_up(worst)):
        return worst.because
    if whole:
        where = next((part.pointers[0].what for part in parts if part.pointers), "")
        return paragraph(sentence(whole), msg("First: {what}.", what=where) if where else None)
    return msg(
        "{because} In all parts together: {found}.", because=worst.because, found=_found(parts)
    )


def in_short(parts: Sequence[Finding]) -> Message:
    """Say the same in a few words: the count, or what was demanded and what was found."""
    demand = demanded(furthest(parts).requirement)
    return _counted(parts) or msg("{demand}: not met ({found})", demand=demand, found=_found(parts))


def furthest(parts: Sequence[Finding]) -> Finding:
    """Return the finding that is furthest beyond its limit; without margins the first."""
    return min(parts, key=lambda part: 0.0 if part.margin is None else part.margin)


def _counted(parts: Sequence[Finding]) -> Message:
    rule = rule_of(parts[0].requirement)
    return NOTHING_SAID if rule is None else rule.reads.counts.failed(parts)


def _found(parts: Sequence[Finding]) -> Message:
    worst = furthest(parts)
    rule = rule_of(worst.requirement)
    return worst.because if rule is None else rule.reads.together(parts, worst)


def _adds_up(finding: Finding) -> bool:
    rule = rule_of(finding.requirement)
    return rule is not None and rule.reads.counts.adds_up


def _kind(finding: Finding) -> Hashable:
    """Return what tells a kind: what is counted in the same way, or demanded alike, of a source."""
    need = finding.requirement
    rule = rule_of(need)
    if rule is None or not _adds_up(finding) or not rule.reads.counts.failed([finding]):
        return demanded(need), need.quantity
    return id(rule.reads.counts), need.quantity


def rank(finding: Finding) -> tuple[bool, int]:
    """Rank a failure, the worst first; what only follows from another fault comes last."""
    rule = rule_of(finding.requirement)
    follows = weight_of(finding) is Weight.FOLLOWS
    if rule is None:
        return follows, len(Harm)
    return follows, list(Harm).index(rule.harm or HARM_OF_SECTION[rule.section])
