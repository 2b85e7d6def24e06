"""Findings in words: what was found, the limit, the margin, and the bound as what it is."""

from soak.judge.verdict import Finding, Outcome
from soak.quantities import show_bytes, show_duration, show_value
from soak.records import Requirement
from soak.report.model import Count, Pointer, Tested

_DECIMALS = {"V": 2, "A": 3}
"""Where one decimal is not enough: 4.75 V is not 4.8 V."""
_LOWEST = frozenset({"at least", "speed kept", "failure free"})
_COUNTED = {"no dropout": "break in the {}", "no restart": "restart by itself"}
_SOURCES = {"capture": "picture", "stick": "data", "link": "link"}
_NO_FORECAST = "It counts what happened here and is not a forecast."


def as_tested(finding: Finding) -> Tested:
    """Return a finding as the report prints it."""
    need = finding.requirement
    return Tested(
        id=need.id,
        check=need.check,
        stretch=need.stretch,
        text=need.text or need.id,
        outcome=finding.outcome.value,
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
        low=finding.low,
        high=finding.high,
        confidence=need.confidence,
        pointers=tuple(
            Pointer(soak_id=one.soak_id, from_s=one.from_s, to_s=one.to_s, what=one.what)
            for one in finding.pointers
        ),
    )


def _value(value: float, need: Requirement) -> str:
    if need.rule == "speed kept":
        return f"{value:.0%}".replace("%", " %")
    decimals = _DECIMALS.get(need.unit)
    if decimals is None:
        return show_value(value, need.unit)
    return f"{value:.{decimals}f} {need.unit}"


def _found(finding: Finding) -> str:
    need = finding.requirement
    if finding.outcome is Outcome.NOT_TESTED:
        return "not measured"
    if need.rule == "answered":
        return str(finding.detail.get("answer", "no answer"))
    if finding.value is None:
        return "no value"
    trials = trials_of(finding)
    if need.rule == "starts" and trials:
        return f"{trials - round(finding.value)} of {trials} worked"
    return _value(finding.value, need)


def _limit(need: Requirement) -> str:
    if need.rule == "answered":
        return str(need.params.get("wanted", "yes"))
    if need.limit is None:
        return "none"
    if need.rule == "starts":
        return f"at most {need.limit:g} failed"
    return f"{'at least' if need.rule in _LOWEST else 'at most'} {_value(need.limit, need)}"


def _margin(finding: Finding) -> str:
    """Write the distance to the limit; a count that may not occur at all has none."""
    need, untold = finding.requirement, finding.value is None
    if finding.margin is None or untold or need.rule == "answered":
        return "–"
    if finding.margin == 0:
        return "at the limit" if need.limit else "–"
    side = "inside the limit" if finding.margin > 0 else "beyond the limit"
    if need.unit == "degC":  # a difference of temperatures is in K
        return f"{show_value(abs(finding.margin), 'K')} {side}"
    return f"{_value(abs(finding.margin), need)} {side}"


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
    """Write the confidence bound beside a count, as a bound and not as a forecast."""
    need = finding.requirement
    if finding.high is None and finding.low is None:
        return ""
    if need.confidence is None:
        ends = [_value(end, need) for end in (finding.low, finding.high) if end is not None]
        return (
            f"between {' and '.join(ends)} by the instrument's accuracy" if len(ends) == 2 else ""
        )
    level = f"{need.confidence:.0%} confidence".replace("%", " %")
    if need.rule == "starts" and finding.high is not None:
        share = f"{finding.high:.1%}".replace("%", " %")
        low = f"above {finding.low:.1%} and ".replace("%", " %") if finding.low else ""
        return f"Share of failed starts {low}below {share} ({level}). {_NO_FORECAST}"
    if need.rule in ("no dropout", "no restart", "dropouts per hour") and finding.high:
        often = f"1 in {show_duration(3600 / finding.high)}"
        rare = f"more often than 1 in {show_duration(3600 / finding.low)}, " if finding.low else ""
        return f"{rare}less often than {often} of such running ({level}). {_NO_FORECAST}".replace(
            "less", "less" if rare else "Less", 1
        ).replace("more", "More", 1)
    ends = [_value(end, need) for end in (finding.low, finding.high) if end is not None]
    return f"Bound {' to '.join(ends)} ({level}). {_NO_FORECAST}"


def count_of(finding: Finding) -> Count | None:
    """Return the count that a finding lets one read large; None if it is not that kind."""
    need = finding.requirement
    if finding.value is None or finding.outcome is Outcome.NOT_TESTED:
        return None
    failed, trials = round(finding.value), trials_of(finding)
    if need.rule == "starts" and trials:
        return Count(large=f"{trials - failed} of {trials} starts worked", small=bound(finding))
    looked_s = observed_s(finding)
    if need.rule in _COUNTED and looked_s:
        word = _COUNTED[need.rule].format(_SOURCES.get(need.quantity, need.quantity))
        much = f"{failed} {word if failed == 1 else word.replace(' ', 's ', 1)}"
        return Count(large=f"{much} in {show_duration(looked_s)}", small=bound(finding))
    written_bytes = _number(finding, "written_bytes")
    if need.rule == "no wrong data" and written_bytes:
        wrong = show_bytes(finding.value)
        return Count(large=f"{wrong} came back wrong of {show_bytes(written_bytes)} written")
    return None
