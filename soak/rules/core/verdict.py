"""What a judgement says."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from soak.derive.seeing.coverage import Coverage
from soak.records import Json, Requirement
from soak.words import NOTHING_SAID, Message


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
    what: Message | str = NOTHING_SAID


@dataclass(frozen=True, slots=True)
class Finding:
    """What came of one requirement.

    Attributes
    ----------
    value : float or None
        What was found, in the requirement's measurement unit.
    bound_low, bound_high : float or None
        Confidence bounds, or the guard band's edges; `method` says which. Of a failed share or a
        failure rate the upper one alone is stated, one-sided at its confidence.
    margin : float or None
        Distance to the limit, positive on the good side.
    over : float or None
        What the value is counted over, as the rule reads it: trials, seconds watched, or bytes.
    shorter : int
        Events on record that are too short for the demand to count singly.
    method : Message
        How value and bounds were found, with the source of the formula.
    because : Message
        The finding in plain sentences.
    why : Message
        Why nothing was shown or tested, in small letters and without a full stop; else empty.
    aside : Message
        Sentences for the bench only, such as how faults lie in time.
    pointers : sequence of Pointer
        Where to look.
    judged_by : Message
        Who judged it, where a person did and no instrument: "by hand, by SM"; else empty.
    covered : sequence of Coverage
        What each soak observed of what was promised; empty where no time was promised.
    detail : Json
        What else the report shows (counts, trials, hours).
    """

    requirement: Requirement
    verdict: Verdict
    value: float | None
    bound_low: float | None
    bound_high: float | None
    margin: float | None
    method: Message
    because: Message
    over: float | None = None
    shorter: int = 0
    why: Message = NOTHING_SAID
    aside: Message = NOTHING_SAID
    judged_by: Message = NOTHING_SAID
    pointers: Sequence[Pointer] = ()
    covered: Sequence[Coverage] = ()
    detail: Json = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Exercised:
    """What came of one function of the model sheet.

    Attributes
    ----------
    name, text : str
        Its name in the model sheet, and what it does in plain words.
    key : bool
        Whether the unit is of no use without it.
    verdict : Verdict
        What the findings that exercise it came to; `not tested` where none does.
    why : Message
        Why it was not shown, in small letters and without a full stop; empty where it was.
    left_out : bool
        Whether the claim left it out, before anything was measured.
    """

    name: str
    text: str
    key: bool
    verdict: Verdict
    why: Message = NOTHING_SAID
    left_out: bool = False


def is_ready(grade: str) -> bool:
    """Tell whether a grade as printed is ready, be it by a narrowed claim."""
    return grade.partition(",")[0] == "ready"


OpenKind = Literal[
    "failed", "journal", "end", "before", "repair", "function", "nothing shown", "data"
]


@dataclass(frozen=True, slots=True)
class OpenPoint:
    """One thing that stands open.

    Attributes
    ----------
    kind : str
        What it is about; who lists it says by it which command closes it.
    told : Message
        A plain sentence or two.
    function : str
        The function of the model sheet that it is about; empty for none.
    """

    kind: OpenKind
    told: Message
    function: str = ""


@dataclass(frozen=True, slots=True)
class Judgement:
    """The grade of one job.

    Attributes
    ----------
    ready : bool
        Ready for sale.
    because : str
        `"all met"`, `"failed"` (mend the unit) or `"incomplete"` (mend the bench, run on).
    reason : Message
        One or a few plain sentences.
    findings : sequence of Finding
        All of them.
    points : sequence of OpenPoint
        What else keeps the unit from being ready: a repair not shown, data not wiped.
    rules : str
        Version of the judging rules.
    seals : sequence of str
        SHA-256 of each judged journal, empty text for one that is not sealed.
    soaks : sequence of str
        Soak ids, in order of time.
    aside : Message
        What is said of the reason to the bench only.
    withdrawn : sequence of Message
        Demands that were not met and then withdrawn: what came of each, who, when and why.
    counted : sequence of Finding
        The findings for the counts on a page: losses by the shortest length ever demanded in the
        job. Empty: as `findings`.
    functions : sequence of Exercised
        Every function of the model sheet, and what came of it.
    as_far_as : Message
        Of a unit that is ready by a narrowed claim: which functions were tested. Else empty.
    """

    ready: bool
    because: Literal["all met", "failed", "incomplete"]
    reason: Message
    findings: Sequence[Finding]
    points: Sequence[OpenPoint]
    rules: str
    seals: Sequence[str]
    soaks: Sequence[str]
    aside: Message = NOTHING_SAID
    withdrawn: Sequence[Message] = ()
    counted: Sequence[Finding] = ()
    functions: Sequence[Exercised] = ()
    as_far_as: Message = NOTHING_SAID

    @property
    def open_points(self) -> Sequence[Message]:
        """What else keeps the unit from being ready, in sentences."""
        return tuple(point.told for point in self.points)

    @property
    def grade(self) -> str:
        """The grade as printed: the words of `soak.names`."""
        if self.ready:
            return "ready, as far as tested" if self.as_far_as else "ready"
        return f"not ready: {self.because}"
