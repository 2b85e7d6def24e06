"""What a report says, as data: the one model that every page, file and picture is made from.

The documented JSON Schema in `docs/report-schema.json` is generated from these classes. There are
two kinds of text: what people typed or instruments gave, which is nobody's to translate, and what
the program says, which has its words only when a page is set. In JSON both are text, in English.
All that was typed passes `printable`, so no page has to defend itself against control or reversing
characters.
"""

from typing import Literal

from pydantic import Field

from soak.report.contents.parts import Part, Typed, Verdicts, Words
from soak.words import NOTHING_SAID, Message, joined, msg

FORMAT = 2
"""Version of the model; a change that a reader of the JSON must know about raises it."""


class Grade(Part):
    """The grade of the job, its reason, and what else stands open."""

    ready: bool
    words: Words = Field(
        description="ready / ready, as far as tested / not ready: failed / not ready: incomplete"
    )
    as_far_as: Words = Field(
        NOTHING_SAID, description="which functions were tested, where the claim leaves others out"
    )
    reason: Words
    reason_for_buyers: Words = Field(
        NOTHING_SAID, exclude=True, description="the reason without what is for the bench only"
    )
    open_points: tuple[Words, ...] = ()
    judged_by: Words = Field(
        NOTHING_SAID, description="who judged all that was met, where no instrument did"
    )

    @property
    def in_full(self) -> Message:
        """The grade with how far it goes."""
        return joined(", ", [msg("ready"), self.as_far_as]) if self.as_far_as else self.words


class Claim(Part):
    """A word a unit may be sold under, and what that word claims."""

    words: Words
    means: Words


class Count(Part):
    """A count to be read large, and small beside it the bound that belongs to it."""

    large: Words
    small: Words = NOTHING_SAID


class Issuer(Part):
    """Who vouches for the report."""

    bench: Words
    address: Words
    location: Words = Field(description="where the soaks ran")
    authorised_by: Words
    customer: Words = Field(description="whose unit it was while it was tested")


class Unit(Part):
    """The item tested."""

    model: Typed
    kind: Typed = ""
    year_made: int | None = None
    tag: Words = Field(description="the bench's own name for it")
    serial: Words = Field(description="as recorded, or masked on a public page")
    serial_masked: bool = False
    condition: Words
    received_on: Words
    holds_data: bool | None = Field(None, description="null: the model sheet does not say")
    wiped: Words = Field(description="how, by whom and when data was removed, or that it was not")


class Repair(Part):
    """What was mended, and the requirements that showed it to hold."""

    what: Typed
    function: Typed
    on: Words
    kind: Typed = ""
    shown_by: tuple[Words, ...] = ()


class Corrected(Part):
    """What was recorded wrong when the unit was soaked, and is put right since."""

    words: Words
    for_buyers: Words = Field(exclude=True, description="the same without a serial")


class Pointer(Part):
    """Where in which soak the evidence lies, s of soak time."""

    soak_id: Typed
    from_s: float
    to_s: float
    what: Words = NOTHING_SAID


class Tested(Part):
    """One requirement and what came of it; texts are for people, numbers for machines."""

    id: Typed
    check: Typed
    stretch: Words
    text: Words
    verdict: Verdicts
    found: Words
    limit: Words
    margin: Words
    bound: Words = Field(
        NOTHING_SAID, description="the bound that belongs to a count, as what it is"
    )
    because: Words = NOTHING_SAID
    method: Words = NOTHING_SAID
    unit: Typed = ""
    value: float | None = None
    limit_value: float | None = None
    margin_value: float | None = None
    bound_low: float | None = None
    bound_high: float | None = None
    confidence: float | None = None
    pointers: tuple[Pointer, ...] = ()


class Together(Part):
    """One demand over all parts of the script in which it was made: what a buyer reads."""

    check: Typed
    text: Words
    verdict: Verdicts = Field(description="the worst of its parts")
    found: Words
    limit: Words
    margin: Words
    bound: Words = NOTHING_SAID
    because: Words = NOTHING_SAID
    parts: tuple[Words, ...] = Field((), description="the parts of the script it was made in")


class Untested(Part):
    """What was not tested or not shown, and why."""

    what: Words
    why: Words
    because: Words = Field(NOTHING_SAID, description="in detail, on the bench's own report")
    key: bool = Field(False, description="a key function: the unit is of no use without it")


class Break(Part):
    """The smallest break that the bench was proved to see on one source."""

    source: Words
    what: Words
    smallest: Words
    on: Words = NOTHING_SAID


class Hole(Part):
    """A time in which the bench could not see, or was not itself; never held against the unit."""

    source: Words
    from_s: float
    lasts: Words
    why: Words = NOTHING_SAID


class Note(Part):
    """The operator's word, or an answer given by hand."""

    at: Typed
    text: Words
    by: Typed = ""


class Wear(Part):
    """What the soak itself cost the unit."""

    starts: int
    powered: Words
    powered_s: float
    written: Words
    written_bytes: float


class Stretch(Part):
    """A part of the script, as it went."""

    name: Words
    attended: bool
    planned: Words
    observed: Words
    ended: Words


class Chart(Part):
    """A chart of the page: its drawing is not part of the JSON, what it shows is."""

    name: Typed
    title: Words
    about: Words


class Frame(Part):
    """A picture kept as evidence; `problem` says why it cannot be shown."""

    name: Typed
    at: Typed
    shows: Words
    sha256: Typed
    problem: Words = NOTHING_SAID


class Photograph(Part):
    """A photograph of the unit that somebody made; `problem` says why it cannot be shown."""

    name: Typed
    what: Typed = Field(description="what it shows, as somebody wrote")
    on: Words
    tied: Words = Field(description="the soak that had been sealed when it was recorded")
    sha256: Typed = Field(description="SHA-256 of the picture as the page holds it")
    problem: Words = NOTHING_SAID


class Soak(Part):
    """One judged soak of the job."""

    soak_id: Typed
    script: Words
    about: Words = NOTHING_SAID
    began_utc: Typed
    resumed_utc: tuple[Typed, ...] = ()
    lasted: Words
    ended: Words
    seal_sha256: Typed = Field(description="SHA-256 of the sealed journal file; empty: not sealed")
    simulated: bool
    stretches: tuple[Stretch, ...] = ()
    script_in_full: tuple[Typed, ...] = Field((), description="as resolved, on the bench's report")
    wear: Wear
    stream: Words = Field(
        NOTHING_SAID, description="what the capture delivered, on the bench's report"
    )
    holes: tuple[Hole, ...] = ()
    notes: tuple[Note, ...] = ()
    answers: tuple[Note, ...] = ()
    charts: tuple[Chart, ...] = ()
    frames: tuple[Frame, ...] = ()
    more_frames: int = Field(0, description="pictures that only the bench's report shows")
    fit_for_listing: bool = Field(True, description="whether its script may go with a listing")


class Listed(Part):
    """One line of the list of all soaks since the repair."""

    soak_id: Typed
    script: Words
    on: Words
    grade: Words
    judged_here: bool


class SoakBefore(Part):
    """One soak of a job before, and what it saw."""

    soak_id: Typed
    script: Words
    on: Words
    grade: Words
    saw: Words = Field(NOTHING_SAID, description="failures with the time they were seen in")


class JobBefore(Part):
    """One job before: what was repaired in it, and what was seen then."""

    job_id: Typed
    begun: Words
    repairs: tuple[Words, ...] = ()
    soaks: tuple[SoakBefore, ...] = ()
    came_back: bool = Field(False, description="it was sold after this job and came back")


class Instrument(Part):
    """An instrument of the fixture, with its identification as it answered."""

    name: Words
    driver: Typed
    kind: Words = Field(NOTHING_SAID, description="a device, a recording, worked by hand ...")
    known_as: Typed = Field("", description="maker, model and serial number as it says")
    proved: Words = Field(NOTHING_SAID, description="when and how it was proved on this unit")
    accuracy: Words = NOTHING_SAID
    calibration: Typed = ""
    identity: tuple[Typed, ...] = ()
    notes: tuple[Typed, ...] = ()


class Method(Part):
    """How the unit was tested and judged."""

    words: Words
    scripts: tuple[Words, ...]
    rules: Words
    program: Typed
    sampling: Words


class Safety(Part):
    """The electrical safety test: done by somebody else, or not done."""

    done: bool
    words: Words
    in_short: Words = Field(exclude=True, description="the same without its method")


class Report(Part):
    """The whole report of one job."""

    format: int = FORMAT
    audience: Literal["bench", "buyer"]
    title: Words
    report_id: Typed
    edition: int
    issued_utc: Typed
    signed_by: Typed = Field(
        "", description="fingerprint of the key that signs it; empty: it is not signed"
    )
    performed: Words = Field(description="dates of performance")
    simulated: bool
    doubted: tuple[Words, ...] = Field(
        (),
        description="what shows nothing: what is no instrument, was never proved on this unit, or "
        "is not the file that was recorded",
    )
    grade: Grade
    no_picture: Words = Field(
        description="why no listing picture is made of it; empty: fit for one"
    )
    claim: Claim
    other_claims: tuple[Claim, ...] = Field(
        description="what the words mean that it is not sold under"
    )
    counts: tuple[Count, ...]
    issuer: Issuer
    unit: Unit
    repairs: tuple[Repair, ...]
    corrections: tuple[Corrected, ...] = Field(
        (), description="what was stated wrong when it was soaked, and is corrected since"
    )
    failed: tuple[Words, ...] = Field((), description="what failed, each in a few words")
    summary: tuple[Together, ...]
    tested: tuple[Tested, ...]
    shown: tuple[Words, ...] = Field(
        (), description="functions that were shown to work, and by whom where only people judged"
    )
    not_tested: tuple[Untested, ...]
    known_limits: tuple[Words, ...]
    smallest_breaks: tuple[Break, ...]
    causes: tuple[Words, ...] = Field(
        (), description="where a repairer might look first, hedged; never for a buyer"
    )
    soaks_in_one_line: Words = Field(
        description="which soak since the repair it is, and what the jobs before saw"
    )
    soaks_listed: tuple[Listed, ...]
    photographs: tuple[Photograph, ...] = Field(
        (), description="photographs of the unit that its pages show"
    )
    jobs_before: tuple[JobBefore, ...] = Field((), description="on the bench's report")
    soaks: tuple[Soak, ...]
    wear: Wear = Field(description="of all soaks of this report")
    shelf_life: Words = Field(description="how long the grade may be relied on, unused and unmoved")
    rechecks: tuple[Words, ...] = ()
    at_home: tuple[Words, ...] = Field((), description="how a buyer can repeat two of the checks")
    safety: Safety
    recall_checked: Words
    method: Method
    deviations: tuple[Words, ...]
    from_others: tuple[Words, ...]
    instruments: tuple[Instrument, ...]
    cautions: tuple[Words, ...]
    relates_only: Words
    end: Words
