"""What the ledger gives back: small frozen facts, one kind each."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from soak.errors import LedgerError
from soak.ledger.days import When, minute_of
from soak.ledger.returning.likeness import Likeness
from soak.names import named
from soak.records import Json
from soak.words import Message, joined, msg, paragraph


class NeedsAnyway(LedgerError):
    """Report an entry that can be made only if the operator insists (`anyway=True`)."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of the bench.

    Attributes
    ----------
    tag : str
        The bench's own short code.
    serial : str
        As it stands on the label; empty if there is none.
    state : str
        `on the bench`, `sold` or `came back`.
    mistyped : sequence of str
        Serials that were recorded for it by mistake, and corrected since.
    """

    tag: str
    serial: str
    model: str
    bought: date | None
    state: str
    mistyped: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class Job:
    """One repair of one unit; evidence counts within its job only."""

    job_id: str
    number: int
    begun: date
    why: str
    when: When | None = None


@dataclass(frozen=True, slots=True)
class Repair:
    """What was mended.

    Attributes
    ----------
    id : str
        `R1`, `R2`, ... within the unit.
    function : str
        Name of the model sheet's function that it gave back.
    kind : str
        `rework`, `repair`, `part replaced` or `donor part`.
    part, batch : str
        What was put in and where it came from.
    entry : int
        Its place in the order in which the ledger took entries in.
    """

    id: str
    job_id: str
    what: str
    function: str
    kind: str
    part: str
    batch: str
    by: str
    on: date
    entry: int = 0


@dataclass(frozen=True, slots=True)
class Wear:
    """Use of a unit by soaking.

    Attributes
    ----------
    starts : int
        Times it was switched on by a check.
    powered_s : float
        Time under power in s.
    written_bytes : int
        Bytes written across its ports.
    """

    starts: int = 0
    powered_s: float = 0.0
    written_bytes: int = 0

    def __add__(self, other: "Wear") -> "Wear":
        return Wear(
            self.starts + other.starts,
            self.powered_s + other.powered_s,
            self.written_bytes + other.written_bytes,
        )


@dataclass(frozen=True, slots=True)
class SoakLine:
    """What the ledger keeps of one soak.

    Attributes
    ----------
    ended : str
        `complete`, `stopped`, `bench fault`; empty while it runs or if it was cut off.
    grade, reason, rules : str
        Of the latest judgement; empty if it was never judged.
    seal : str
        SHA-256 of the sealed journal; empty if it is not sealed.
    ended_utc : str
        When it was sealed, by the wall clock at its last beginning; empty if not known.
    not_tested, not_shown : sequence of str
        What this soak left open, as the report prints it.
    entry : int
        Its place in the order in which the ledger took entries in.
    """

    soak_id: str
    job_id: str
    script: str
    on: date
    began_utc: str
    ended: str
    grade: str
    reason: Message
    rules: str
    seal: str
    simulated: bool
    wear: Wear
    not_tested: Sequence[str]
    not_shown: Sequence[str]
    ended_utc: str = ""
    entry: int = 0

    def ended_after(self, when: When) -> bool:
        """Tell whether it surely ended after something else; a simulated one has no such time."""
        if self.simulated or not self.ended_utc:
            return False
        at = minute_of(self.ended_utc)
        return when.before(When(at.date(), at))


@dataclass(frozen=True, slots=True)
class Sale:
    """A sale.

    Attributes
    ----------
    price : Decimal or None
        In the bench's own currency; None if not told.
    report : str
        Which report the listing showed.
    although : str
        What spoke against the sale and was overruled; empty if nothing did.
    """

    on: date
    where: str
    price: Decimal | None
    report: str
    job_id: str
    although: str
    by: str


@dataclass(frozen=True, slots=True)
class CameBack:
    """A sold unit that returned.

    Attributes
    ----------
    answers : Json
        What the buyer answered: when, hot or cold, which cable, how often.
    hazard : str
        `smoke`, `shock`, `burn`, or empty.
    settled, done : str
        What was found to be the cause of the hazard, and what was done; empty while it is open.
    warnings : sequence of Message
        What must be said at once, loud.
    """

    on: date
    complaint: str
    answers: Json
    hazard: str
    settled: str
    by: str
    warnings: Sequence[Message] = ()
    done: str = ""


@dataclass(frozen=True, slots=True)
class Wiped:
    """How personal data was removed, and how that was verified."""

    how: str
    verified: str
    by: str
    on: date


@dataclass(frozen=True, slots=True)
class Photograph:
    """A photograph of a unit.

    Attributes
    ----------
    what : str
        What it shows.
    file : str
        Where it lies in the bench's folder; POSIX.
    sha256 : str
        Hexadecimal SHA-256 of the file.
    seal : str
        That of the newest soak before it; empty if there was none.
    withdrawn : bool
        Whether it no longer counts.
    """

    entry: int
    what: str
    file: str
    sha256: str
    seal: str
    on: date
    by: str
    withdrawn: bool


@dataclass(frozen=True, slots=True)
class Sighting:
    """A unit of the ledger whose serial is, or reads like, the one asked for.

    Attributes
    ----------
    how : Likeness
        `the same serial`, `reads alike` or `one character off`.
    came_back : sequence of CameBack
        What it came back for.
    not_tested : sequence of str
        What the last soak before its last sale had not tested (the last soak of all, if it was
        never sold).
    """

    unit: Unit
    how: Likeness
    sold: Sale | None
    came_back: Sequence[CameBack]
    not_tested: Sequence[str]

    @property
    def text(self) -> Message:
        """The sighting in plain sentences."""
        who = msg(
            "{how}: {tag} ({unit})",
            how=LIKENESS[self.how],
            tag=self.unit.tag,
            unit=joined(", ", [self.unit.model, serial_of(self.unit)]),
        )
        sold = None
        if self.sold:
            sold = msg("sold on {on} ({where})", on=str(self.sold.on), where=self.sold.where)
        returns = [
            msg("It came back on {on}: {complaint}.", on=str(back.on), complaint=back.complaint)
            for back in self.came_back
        ]
        untested = None
        if self.not_tested:
            points = joined("; ", self.not_tested)
            untested = msg("Its soak had not tested: {points}.", points=points)
        where = joined(", ", [who, named(self.unit.state), sold])
        return paragraph(joined("", [where, "."]), *returns, untested)


LIKENESS: Mapping[Likeness, Message] = {
    "the same serial": msg("the same serial"),
    "reads alike": msg("reads alike"),
    "one character off": msg("one character off"),
}
"""How alike two serials are, as it is said."""


def serial_of(unit: Unit) -> Message:
    """Say a unit's serial, and those that were once recorded for it by mistake."""
    wrong = [msg("once recorded as {serial}", serial=serial) for serial in unit.mistyped]
    return joined(", ", [msg("serial {serial}", serial=unit.serial), *wrong])


@dataclass(frozen=True, slots=True)
class CardLine:
    """One event on a unit's card.

    Attributes
    ----------
    at : str
        The hour, `11:30`; empty where only the day is known.
    entry : int
        Its number, by which it is withdrawn or corrected; 0 if it is none.
    notes : sequence of Message
        What became of it: withdrawn, corrected, recorded by a clock that was set back.
    withdrawn : bool
        Whether it no longer counts.
    """

    on: date
    kind: str
    text: Message
    by: str
    detail: Json = field(default_factory=dict)
    at: str = ""
    entry: int = 0
    notes: Sequence[Message] = ()
    withdrawn: bool = False


@dataclass(frozen=True, slots=True)
class UnitCard:
    """Everything about one unit in order of time, with its use by soaking."""

    unit: Unit
    job: Job
    lines: Sequence[CardLine]
    wear: Wear
    warnings: Sequence[Message]
