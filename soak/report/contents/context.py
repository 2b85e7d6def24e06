"""What a report says that no journal knows: who issues it, and what people vouch for."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from soak.errors import UsageError
from soak.frozen.references import EarlierSoak
from soak.report.model import Claim
from soak.words import Message, joined, msg, paragraph

_NOTHING_ELSE = msg("Nothing else was renewed.")
_RENEWED = msg(
    "The fault was mended, worn parts near the end of their life were renewed too, and the bench "
    "gives a warranty on the whole unit."
)
_ALL = (
    Claim(
        words=msg("repaired and tested"),
        means=paragraph(
            msg("The recorded fault was mended and the functions listed below were tested."),
            _NOTHING_ELSE,
        ),
    ),
    Claim(
        words=msg("repaired"),
        means=paragraph(msg("The recorded fault was mended."), _NOTHING_ELSE),
    ),
    Claim(words=msg("reconditioned"), means=_RENEWED),
    Claim(words=msg("refurbished"), means=_RENEWED),
    Claim(
        words=msg("remanufactured"),
        means=msg(
            "The unit was brought back to at least its original performance and carries a warranty "
            "like that of a new one."
        ),
    ),
    Claim(
        words=msg("tested"),
        means=paragraph(
            msg("The functions named below were tested."), msg("No repair is on record.")
        ),
    ),
    Claim(words=msg("not sold as working"), means=msg("The unit is sold for parts or repair.")),
)
CLAIMS: Mapping[str, Claim] = {str(claim.words): claim for claim in _ALL}
"""Words a unit may be sold under, and what each claims.

References
----------
BS 8887-2:2009 (terms), BS 8887-220:2010 (remanufacture), BS 8887-240:2011 (reconditioning), as
their publisher's pages describe them.
"""

EXPLAINED = ("repaired and tested", "reconditioned", "remanufactured")
"""Claims whose meaning each report gives, so that the one it makes is not taken for another;
refurbished means what reconditioned means."""


@dataclass(frozen=True, slots=True)
class Challenge:
    """What the bench saw when it was put to the test: the smallest break on one source.

    Attributes
    ----------
    source : str
        `"capture"`, `"stick"`.
    what : str
        What was done on cue, `"power off for 100 ms"`.
    smallest_s : float or None
        The shortest break it can see, s; None if it saw none.
    on : str
        Date.
    """

    source: str
    what: str
    smallest_s: float | None
    on: str = ""


@dataclass(frozen=True, slots=True)
class Amendment:
    """One thing that was stated of the unit when its newest soak began, and is corrected since.

    Attributes
    ----------
    kind : str
        `serial`, `repair`, `wiped` or `came back`.
    before, now : str
        What it said then and says now; empty if it was, or is, withdrawn.
    on : str
        Date.
    """

    kind: str
    before: str
    now: str
    why: str
    by: str
    on: str


@dataclass(frozen=True, slots=True)
class Opening:
    """The unit was opened after its newest soak had begun; `withdrawn` says why it was not."""

    on: str
    why: str
    withdrawn: str = ""


@dataclass(frozen=True, slots=True)
class Hazard:
    """Smoke, a shock or a burn that the unit came back for; `found` is empty while it is open."""

    hazard: str
    complaint: str
    on: str
    found: str = ""
    done: str = ""


@dataclass(frozen=True, slots=True)
class SafetyTest:
    """An electrical safety test done with a tester, not with soak."""

    by: str
    on: str
    method: str
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Photographed:
    """A photograph of the unit that the pages show.

    Attributes
    ----------
    what : str
        What it shows, as somebody wrote.
    on : str
        Date.
    sha256 : str
        Hexadecimal, as recorded.
    after_soak : str
        The soak whose seal it was tied to; empty if there was none.
    content : bytes
        The JPEG; empty where it is not what was recorded.
    problem : Message
        Why it cannot be shown; empty if it can.
    """

    what: str
    on: str
    sha256: str
    after_soak: str
    content: bytes
    problem: Message


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportContext:
    """Everything else a report needs.

    Attributes
    ----------
    bench, address : str
        Name and address of who vouches.
    issued_utc : str
        Date of issue, RFC 3339; the same text gives the same bytes.
    version : str
        Version of the program.
    edition : int
        1 for the first report on these soaks, 2 after a correction.
    show_serial : bool
        Print the full serial on the buyer's page too.
    year_made : int or None
        Of this unit, where the model sheet does not say or says otherwise.
    grade_keeps_days : int
        Days after which a unit kept in store is checked again before it is posted: the bench's
        own choice.
    claim : str
        One of `CLAIMS`.
    signed_by : str
        Fingerprint of the key that the files are signed by; empty: they are not.
    left_out : sequence of str
        Functions that the details leave out of the claim now, whenever that was written.
    not_as_recorded : sequence of Message
        What is said of kept files that are not what was recorded.
    photographs : sequence of Photographed
        Those that the pages show, in their order.

    Raises
    ------
    UsageError
        If the claim is a word that the bench cannot vouch for.
    """

    bench: str
    issued_utc: str
    version: str
    address: str = ""
    location: str = ""
    authorised_by: str = ""
    customer: str = ""
    received_on: str = ""
    condition: str = ""
    edition: int = 1
    signed_by: str = ""
    claim: str = "repaired and tested"
    left_out: Sequence[str] = ()
    wiped: str = ""
    safety_test: SafetyTest | None = None
    recall_checked_on: str = ""
    recall_result: str = ""
    year_made: int | None = None
    grade_keeps_days: int = 90
    show_serial: bool = False
    known_defects: Sequence[str] = ()
    deviations: Sequence[str] = ()
    earlier_soaks: Sequence[EarlierSoak] = ()
    challenges: Sequence[Challenge] = ()
    calibrations: Mapping[str, str] = field(default_factory=dict)
    amendments: Sequence[Amendment] = ()
    openings: Sequence[Opening] = ()
    hazards: Sequence[Hazard] = ()
    not_as_recorded: Sequence[Message] = ()
    photographs: Sequence[Photographed] = ()

    def __post_init__(self) -> None:
        if self.claim in CLAIMS:
            return
        if "new" in self.claim.lower().split():
            raise UsageError(
                msg(
                    "the claim {claim} cannot be vouched for by a soak; use one of: {claims}",
                    claim=repr(self.claim),
                    claims=joined(", ", CLAIMS),
                )
            )
        raise UsageError(
            msg(
                "{claim} is not a claim soak knows; use one of: {claims}",
                claim=repr(self.claim),
                claims=joined(", ", CLAIMS),
            )
        )
