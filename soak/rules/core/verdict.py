"""What a judgement says."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from soak.records import Json, Requirement


class Verdict(StrEnum):
    """What came of a requirement."""

    MET = "met"
    NOT_MET = "not met"
    NOT_SHOWN = "not shown"
    """Promised evidence has holes, or the value lies inside the measuring uncertainty."""
    NOT_TESTED = "not tested"
    """No such instrument."""


@dataclass(frozen=True, slots=True)
class Pointer:
    """Where in which soak the evidence lies, s of soak time."""

    soak_id: str
    from_s: float
    to_s: float
    what: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """What came of one requirement.

    Attributes
    ----------
    value : float or None
        What was found, in the requirement's measurement unit.
    bound_low, bound_high : float or None
        Confidence bounds, or the guard band's edges; `method` says which.
    margin : float or None
        Distance to the limit, positive on the good side.
    method : str
        How value and bounds were found, with the source of the formula.
    because : str
        The finding in one plain sentence.
    pointers : sequence of Pointer
        Where to look.
    detail : Json
        What else the report shows (counts, trials, hours).
    """

    requirement: Requirement
    verdict: Verdict
    value: float | None
    bound_low: float | None
    bound_high: float | None
    margin: float | None
    method: str
    because: str
    pointers: Sequence[Pointer] = ()
    detail: Json = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Judgement:
    """The grade of one job.

    Attributes
    ----------
    ready : bool
        Ready for sale.
    because : str
        `"all met"`, `"failed"` (mend the unit) or `"incomplete"` (mend the bench, run on).
    reason : str
        One plain sentence.
    findings : sequence of Finding
        All of them.
    open_points : sequence of str
        What else keeps the unit from being ready: a repair not shown, data not wiped.
    rules : str
        Version of the judging rules.
    seals : sequence of str
        SHA-256 of each judged journal, empty text for one that is not sealed.
    soaks : sequence of str
        Soak ids, in order of time.
    """

    ready: bool
    because: Literal["all met", "failed", "incomplete"]
    reason: str
    findings: Sequence[Finding]
    open_points: Sequence[str]
    rules: str
    seals: Sequence[str]
    soaks: Sequence[str]

    @property
    def grade(self) -> str:
        """The grade as printed: `"ready"`, `"not ready: failed"` or `"not ready: incomplete"`."""
        return "ready" if self.ready else f"not ready: {self.because}"
