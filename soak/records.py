"""The records of a soak: small frozen facts, each valid on its own, each written as canonical JSON.

Checks and instruments *observe*: they say what a source is seen to be from now on (`State`), what
was measured when (`Reading`) and what was done (`Mark`). Dropouts, restarts and the grade are
derived from them at judgement, so that a journal can be judged again by other limits.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Any, Literal, cast

import rfc8785

from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.script import PlannedScript
from soak.frozen.shape import Json as Json
from soak.frozen.shape import plain, read_as
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.frozen.wiring import Role as Role
from soak.quantities import Quantity
from soak.words_json import with_said

FORMAT = 2
"""Version of the journal's format; a reader refuses any other."""


def canonical_json(value: object) -> bytes:
    """Write `value` as canonical JSON.

    Raises
    ------
    ValueError
        If a number is not finite, an integer exceeds 2^53 - 1, or an object is not plain JSON.

    References
    ----------
    RFC 8785, JSON Canonicalization Scheme.
    """
    try:
        return rfc8785.dumps(cast(Any, value))
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as fault:
        raise ValueError(f"not canonical JSON: {fault}") from None


def _finite(name: str, value: float) -> None:
    if not math.isfinite(value):
        raise ValueError(f"{name} is {value}; a record holds finite numbers only")


@dataclass(frozen=True, slots=True)
class Session:
    """One unbroken run of the program; the first record of each.

    Attributes
    ----------
    number : int
        1 for the first start, 2 after the first resume.
    program : str
        Program version.
    boot_id : str
        Identity of the host's boot, empty where unknown.
    utc : str
        Wall clock at the beginning, RFC 3339.
    begins_at_s : float
        Soak time at which the session begins.
    gap_s : float or None
        Length of the time in which nobody looked before this session; None if unknown.
    gap_from : str
        Where `gap_s` is known from.
    boot_s : float or None
        Boot clock at the beginning, in s; None where unknown. Tells a later session of the same
        boot how long nobody looked, whatever the wall clock did.
    """

    number: int
    program: str
    boot_id: str
    utc: str
    begins_at_s: float
    gap_s: float | None
    gap_from: Literal["first start", "boot clock", "wall clock", "unknown"]
    boot_s: float | None = None

    def __post_init__(self) -> None:
        _finite("begins_at_s", self.begins_at_s)


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured value; `t_s` is when it was true, not when it was written."""

    t_s: float
    quantity: str
    value: float

    def __post_init__(self) -> None:
        _finite("t_s", self.t_s)
        _finite(self.quantity, self.value)


@dataclass(frozen=True, slots=True)
class State:
    """What a source is seen to be from `t_s` on, until the next state of the same source.

    Attributes
    ----------
    t_s : float
        When it began, s of soak time.
    source : str
        The instrument, `"capture"`, `"stick"`, `"probe.heatsink"`.
    state : str
        `picture`, `black`, `no signal`, `frozen`, `stalled`, `other size`, `seen`, `gone`;
        `blind` is reserved.
    within_s : float
        The beginning is known to lie within this many s before `t_s`.
    detail : Json
        What else is known.
    """

    t_s: float
    source: str
    state: str
    within_s: float = 0.0
    detail: Json = field(default_factory=dict)

    def __post_init__(self) -> None:
        _finite("t_s", self.t_s)
        _finite("within_s", self.within_s)


@dataclass(frozen=True, slots=True)
class Mark:
    """A timed statement; `soak.marks` lists the ones the program makes.

    Attributes
    ----------
    what : str
        The statement, `"power"`, `"stretch begins"`.
    stretch, check : str
        Where it was made; empty if nowhere in particular.
    detail : Json
        Its particulars.
    """

    t_s: float
    what: str
    stretch: str = ""
    check: str = ""
    detail: Json = field(default_factory=dict)

    def __post_init__(self) -> None:
        _finite("t_s", self.t_s)


@dataclass(frozen=True, slots=True)
class KeptFile:
    """A file in the soak's folder, durable before this record is acknowledged.

    Attributes
    ----------
    name : str
        File name within the soak's `kept` folder.
    media_type : str
        `"image/jpeg"` and so on.
    sha256 : str
        Hexadecimal SHA-256 of the file; the journal fills it in.
    of : str
        What it shows: the source, or the id of a question.
    detail : Json
        What else is known: for an evidence frame `shows` (before, during, after) and `state`.
    """

    t_s: float
    name: str
    media_type: str
    sha256: str
    of: str
    detail: Json = field(default_factory=dict)

    def __post_init__(self) -> None:
        _finite("t_s", self.t_s)


@dataclass(frozen=True, slots=True)
class Requirement:
    """What is demanded, as data; fixed in the header before anything is measured.

    Attributes
    ----------
    id : str
        Unique within a script: `"starts/power_cycles/failed starts"`.
    check, stretch : str
        The check that gathers the evidence, the stretch it runs in (empty: the whole soak).
    text : str
        The demand in plain words, as the report prints it.
    quantity : str
        Name of a quantity or of a source of states.
    rule : str
        Name of the judging rule.
    limit : float or None
        Limit in the quantity's measurement unit (or as the rule says).
    unit : str
        Measurement unit of `limit` and of the finding's value.
    guarded : bool
        Whether the instrument's accuracy is kept clear of the limit (a guard band).
    confidence : float or None
        Confidence level of the bound that is stated beside the value, 0 < c < 1.
    needs : frozenset of Role
        Roles without which the requirement is `not tested`.
    blind_allowed : float
        Share of the stretch in which the bench may be blind, 0 to 1.
    longest_blind_s : float or None
        Longest single blindness allowed.
    shows_repair : frozenset of str
        Functions of the model sheet whose repair this requirement shows.
    params : Json
        What else the rule needs.
    """

    id: str
    check: str
    stretch: str
    text: str
    quantity: str
    rule: str
    limit: float | None = None
    unit: str = "1"
    guarded: bool = False
    confidence: float | None = None
    needs: frozenset[Role] = frozenset()
    blind_allowed: float = 0.02
    longest_blind_s: float | None = None
    shows_repair: frozenset[str] = frozenset()
    params: Json = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.confidence is not None and not 0 < self.confidence < 1:
            raise ValueError(f"{self.id}: confidence is {self.confidence}; it lies between 0 and 1")
        if not 0 <= self.blind_allowed <= 1:
            raise ValueError(
                f"{self.id}: blind_allowed is {self.blind_allowed}; it is a share, 0 to 1"
            )


@dataclass(frozen=True, slots=True)
class Header:
    """The journal's first record: everything the judgement needs, fully resolved.

    Attributes
    ----------
    soak_id, job_id : str
        Identity of this soak and of the repair it belongs to.
    unit, model_sheet, script, fixture
        As stated and resolved, defaults filled in; in a fixture what each instrument said it is.
    quantities, requirements
        What is measured, and what is demanded.
    references : References
        Figures from before, frozen at the start.
    seed : int
        Of the data moved, and of a simulated unit.
    simulated : bool
        Whether any instrument was simulated.
    terms : Json
        What counts as lost and how long a start may take, whatever is demanded: `UnitTerms` of
        `soak.terms`, resolved from model sheet and script.
    """

    format: int
    soak_id: str
    job_id: str
    unit: UnitStated
    model_sheet: ModelSheet
    script: PlannedScript
    fixture: Fixture
    quantities: Sequence[Quantity]
    requirements: Sequence[Requirement]
    references: References
    seed: int
    simulated: bool
    terms: Json = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Seal:
    """The journal's last record: how the soak ended, and the heads of what belongs to it.

    Attributes
    ----------
    ended : str
        How the soak ended.
    guard_log : Json
        Name, last record number and chain head of the guard's own log; empty if it has none.
    """

    t_s: float
    ended: Literal["complete", "stopped", "bench fault"]
    guard_log: Json = field(default_factory=dict)


Observed = Reading | State | Mark | KeptFile
"""What a check or an instrument may say."""

Record = Header | Session | Reading | State | Mark | KeptFile | Seal

_KINDS: Mapping[str, type[Any]] = {
    "header": Header,
    "session": Session,
    "reading": Reading,
    "state": State,
    "mark": Mark,
    "kept file": KeptFile,
    "seal": Seal,
}
OF_HEADER: Mapping[str, type[Any]] = {
    "unit": UnitStated,
    "model_sheet": ModelSheet,
    "script": PlannedScript,
    "fixture": Fixture,
    "references": References,
}
"""What stands in a header, by its key."""

_NAMES = {kind: name for name, kind in _KINDS.items()}


def kind_of(record: Record) -> str:
    """Return the record's kind as it is written: `"reading"`, `"state"`, ..."""
    return _NAMES[type(record)]


def to_json(record: Record | Quantity | Requirement) -> dict[str, Any]:
    """Turn a record into a plain JSON object without its kind."""
    made = {part.name: plain(getattr(record, part.name)) for part in fields(record)}
    return {**made, "detail": with_said(made["detail"])} if isinstance(record, State) else made


def from_json(kind: str, data: Json) -> Record:
    """Turn a plain JSON object back into the record it was.

    Raises
    ------
    ValueError
        If the kind is unknown, or a key is missing, unknown or impossible.
    """
    if kind not in _KINDS:
        raise ValueError(f"{kind!r} is not a kind of record")
    values = dict(data)
    try:
        if kind == "header":
            values["quantities"] = tuple(Quantity(**entry) for entry in values["quantities"])
            values["requirements"] = tuple(map(requirement_from_json, values["requirements"]))
            values |= _typed(values)
        return cast(Record, _KINDS[kind](**values))
    except (TypeError, KeyError) as fault:
        raise ValueError(f"not a {kind}: {fault}") from None


def _typed(header: Json) -> dict[str, Any]:
    try:
        return {key: read_as(cls, header[key], key) for key, cls in OF_HEADER.items()}
    except ValueError as fault:
        raise TypeError(fault) from None


def requirement_from_json(data: Json) -> Requirement:
    """Turn a plain JSON object back into a requirement."""
    sets = {key: frozenset(data[key]) for key in ("needs", "shows_repair")}
    return Requirement(**{**data, **sets})
