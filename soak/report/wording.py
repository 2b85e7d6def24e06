"""Findings in words: what was found, the limit, the margin, and the bound as what it is."""

from collections.abc import Sequence

from soak.quantities import show_bytes, show_duration, show_value
from soak.records import Requirement
from soak.report.model import Count, Pointer, Tested
from soak.rules.core.verdict import Finding, Verdict

_LOWEST = frozenset({"at least", "speed kept", "failure free", "at least speed", "port voltage"})
_SHARES = frozenset({"speed kept", "no slow drift"})
_COUNTED = {"no dropout": "break in the {}", "no restart": "restart of its own"}
_SOURCES = {"capture": "picture", "stick": "data", "link": "link"}
_MEASURED = frozenset(
    {"at most", "at least", "rise at most", "port voltage", "port droop", "drawn"}
)
_BY_PLAN = {"starts by plan": "starts", "hours by plan": "no dropout"}
"""Rules that count as another does and are decided by a sequential plan."""
_TRIALS = frozenset({"supply margin", "short breaks", "soft stops"})
_TRIED = {"starts": "starts", "reseats": "plug-ins"}
_RATES = frozenset({"no dropout", "no restart", "dropouts per hour", "stick stayed", "link stayed"})


def as_tested(finding: Finding) -> Tested:
    """Return a finding as the report prints it."""
    need = finding.requirement
    return Tested(
        id=need.id,
        check=need.check,
        stretch=need.stretch,
        text=need.text or need.id,
        verdict=finding.verdict.value,
        found=_found(finding),
        limit=_limit(need),
        margin=_margin(finding),
        bound=bound(finding),
        because=finding.because,
        method=finding.method,
        unit=need.unit,
        value=finding.value,
        limit_value=need.limit,
        margin_value=finding.margin,
        bound_low=finding.bound_low,
        bound_high=finding.bound_high,
        confidence=need.confidence,
        pointers=tuple(
            Pointer(soak_id=one.soak_id, from_s=one.from_s, to_s=one.to_s, what=one.what)
            for one in finding.pointers
        ),
    )


def value_words(value: float, need: Requirement) -> str:
    """Write a value the way its rule is read."""
    if need.rule in _SHARES:
        return f"{round(value * 100) + 0} %"
    return show_value(value, need.unit)


def _found(finding: Finding) -> str:
    need = finding.requirement
    if finding.verdict is Verdict.NOT_TESTED:
        return "not measured"
    if need.rule == "answered":
        return str(finding.detail.get("answer", "no answer"))
    if finding.value is None:
        return "no value"
    trials = trials_of(finding)
    if counts_as(need.rule) == "starts" and trials:
        return f"{trials - round(finding.value)} of {trials} worked"
    if need.rule in _TRIALS and (made := int(_number(finding, "trials") or 0)):
        return f"{made - round(finding.value)} of {made} worked"
    return value_words(finding.value, need)


def _limit(need: Requirement) -> str:
    if need.rule == "answered":
        return str(need.params.get("wanted", "yes"))
    if need.rule in _BY_PLAN:
        return "as its plan accepts"
    if need.limit is None:
        return "none"
    if need.rule == "starts" or need.rule in _TRIALS:
        return f"at most {need.limit:g} failed"
    return f"{'at least' if need.rule in _LOWEST else 'at most'} {value_words(need.limit, need)}"


def _margin(finding: Finding) -> str:
    """Write the distance to the limit; a count that may not occur at all has none."""
    need, untold = finding.requirement, finding.value is None
    if finding.margin is None or untold or need.rule == "answered":
        return "–"
    if finding.margin == 0:
        return "at the limit" if need.limit else "–"
    side = "to spare" if finding.margin > 0 else "beyond"
    if need.unit == "degC":  # a difference of temperatures is in K
        return f"{show_value(abs(finding.margin), 'K')} {side}"
    return f"{value_words(abs(finding.margin), need)} {side}"


def trials_of(finding: Finding) -> int:
    """Return how many starts a finding counts; 0 if it does not say."""
    return int(_number(finding, "starts") or 0)


def observed_s(finding: Finding) -> float | None:
    """Return the observed time in s behind a finding; None if it does not say."""
    hours = _number(finding, "hours")
    return None if hours is None else hours * 3600


def _number(finding: Finding, key: str) -> float | None:
    found = finding.detail.get(key)
    return float(found) if isinstance(found, int | float) else None


def bound(finding: Finding) -> str:
    """Write the bound beside a value as what it is: of accuracy, of a share or of a rate."""
    need, low, high = finding.requirement, finding.bound_low, finding.bound_high
    if need.rule in _MEASURED:
        if low is None or high is None:
            return ""
        both = f"{value_words(low, need)} and {value_words(high, need)}"
        return f"Between {both} by the probe's accuracy"
    if high is None or high <= 0:
        return ""
    level = f"{_percent(need.confidence or _number(finding, 'confidence') or 0.95, 0)} confidence"
    rule = counts_as(need.rule)
    if rule in _TRIED:
        least = f"above {_percent(low, 1)} and " if low else ""
        return f"Share of failed {_TRIED[rule]} {least}below {_percent(high, 1)} ({level})"
    if rule in _RATES:
        often = f"less often than 1 in {show_duration(3600 / high)}"
        least = f"more often than 1 in {show_duration(3600 / low)}, " if low else ""
        both = f"{least}{often} of such running ({level})"
        return both[0].upper() + both[1:]
    return ""


def _percent(share: float, decimals: int) -> str:
    return f"{share * 100:.{decimals}f} %"


def counts_of(findings: Sequence[Finding]) -> tuple[Count, ...]:
    """Return the counts to be read large, over all parts of the script.

    The bounds stay those of each part: warm and cold starts need not share one chance, so no
    single bound is made of them; all stand beside their requirements.
    """
    told: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        if finding.value is not None and finding.verdict is not Verdict.NOT_TESTED:
            need = finding.requirement
            told.setdefault((counts_as(need.rule), need.quantity), []).append(finding)
    return tuple(
        Count(large=large, small=bounds(parts))
        for (rule, quantity), parts in told.items()
        if (large := _large(rule, quantity, parts))
    )


def _large(rule: str, quantity: str, parts: Sequence[Finding]) -> str:
    """Return the count over several findings of one rule; empty if they are not counts."""
    bad = sum(part.value or 0.0 for part in parts)
    if rule == "starts":
        starts = sum(trials_of(part) for part in parts)
        return f"{starts - round(bad)} of {starts} starts worked" if starts else ""
    looked_s = sum(observed_s(part) or 0.0 for part in parts)
    if rule in _COUNTED and looked_s:
        word = _COUNTED[rule].format(_SOURCES.get(quantity, quantity))
        word = (
            word
            if round(bad) == 1
            else word.replace("break", "breaks").replace("restart of", "restarts of")
        )
        return f"{round(bad)} {word} in {show_duration(looked_s)}"
    written = sum(_number(part, "written_bytes") or 0.0 for part in parts)
    if rule == "no wrong data" and written:
        return f"{show_bytes(bad)} came back wrong of {show_bytes(written)} written"
    return ""


def is_counted(rule: str) -> bool:
    """Whether a rule's count is read large, with its bound beside it."""
    return counts_as(rule) == "starts" or counts_as(rule) in _COUNTED


def counts_as(rule: str) -> str:
    """Return the rule whose count it is: a plan's starts are starts."""
    return _BY_PLAN.get(rule, rule)


def bounds(parts: Sequence[Finding]) -> str:
    """Return the bound of the part that shows most and of each that failed, as what it is."""
    bounded = [part for part in parts if part.bound_high is not None and bound(part)]
    if not bounded:
        return ""
    tightest = min(bounded, key=lambda part: part.bound_high or 0.0)
    told = []
    for part in bounded:
        if part is tightest or part.value:
            words, stretch = bound(part), part.requirement.stretch
            told.append(f"{stretch}: {words[0].lower()}{words[1:]}" if stretch else words)
    return "; ".join(told)
