"""Figures from before a soak, frozen as it begins: of the unit, of units like it, of the bench."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from soak.frozen.shape import Json, kept, maybe


@dataclass(frozen=True, slots=True)
class EarlierSoak:
    """A soak of the same job; `on` is its day."""

    soak_id: str = ""
    script: str = ""
    grade: str = ""
    on: str = ""


@kept
class BackSettled:
    """That the unit came back, and what became of it.

    Attributes
    ----------
    answers : mapping of question to answer
        Of whoever sent it back.
    settled, done : str
        What was found, and what was done; empty if it is open.
    not_tested : tuple of str
        Of the last return: what the soak before its sale had not tested.
    """

    on: str = ""
    complaint: str = ""
    hazard: str = ""
    answers: Mapping[str, str] = field(default_factory=dict)
    settled: str = ""
    done: str = ""
    not_tested: tuple[str, ...] = ()


@kept
class SeenByBench:
    """A challenge that the bench saw: its source, what it was, the smallest seen, s."""

    source: str = ""
    what: str = ""
    smallest_s: float | None = None


@kept
class BenchProved:
    """What the fixture was seen to see, and on which day.

    Attributes
    ----------
    smallest_break_s : float or None
        Of the picture, s; kept for people, `seen` says it too.
    """

    on: str = ""
    seen: tuple[SeenByBench, ...] = ()
    smallest_break_s: float | None = None


@kept
class UnitProved:
    """What was proved to be at this unit beforehand.

    Attributes
    ----------
    by : mapping of source to str
        By which step.
    is_ : mapping of source to Json
        What tells each instrument from another, by `soak.natures`.
    """

    on: str = ""
    by: Mapping[str, str] = field(default_factory=dict)
    is_: Mapping[str, Json] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Stated:
    """What the operator states before a soak.

    Attributes
    ----------
    cell_out : bool
        The lithium cell is out of the unit.
    attended : bool
        Somebody stays beside the unit until the soak is over.
    hard_cuts : bool
        The disk may be cut off hard more than a few times.
    as_reference : bool
        The unit is known to be good: later ones are compared with its heat.
    """

    cell_out: bool = False
    attended: bool = False
    hard_cuts: bool = False
    as_reference: bool = False


@kept
class Counts:
    """What the soak of a unit adds to a pool.

    Attributes
    ----------
    starts, failed, faults : int
        Warm starts, those that failed, and losses of the picture.
    hours : float
        Time watched, h.
    """

    soak_id: str = maybe(default="")
    starts: int = 0
    failed: int = 0
    hours: float = 0.0
    faults: int = 0


@kept
class HeatReference:
    """How warm a known-good unit became.

    Attributes
    ----------
    rises_k : mapping of spot to float
        Rise over ambient in the end, K.
    how : mapping of spot to str
        Whether it was read or predicted; kept for people.
    drawn_a : float or None
        Median current meanwhile, A; None without a probe of it.
    """

    soak_id: str = ""
    tag: str = ""
    rises_k: Mapping[str, float] = field(default_factory=dict)
    how: Mapping[str, str] = field(default_factory=dict)
    drawn_a: float | None = None


@kept
class StartTimes:
    """How long another unit's ordinary starts took: their number and median, s.

    `soak_id`, `tag` and `starts` are kept for people, who may ask where a limit comes from.
    """

    soak_id: str = ""
    tag: str = ""
    starts: int = 0
    median_s: float = 0.0


@kept
class ChannelWorked:
    """That a soak of another unit ran on the same channel after one in which the unit went dead."""

    after: str = ""
    soak_id: str = ""
    tag: str = ""


@kept
class MovedBefore:
    """Losses while a plug was moved, and in how long."""

    heat: str = ""
    events: float = 0.0
    hours: float = 0.0


@kept
class SeenBefore:
    """What the newest intake saw, as older programs kept it."""

    port: str = ""
    moved: tuple[MovedBefore, ...] = ()


@kept
class Carried:
    """What earlier tries bring along: stopped before it had decided, a plan goes on in the next.

    Attributes
    ----------
    failed : tuple of bool
        For each start under this plan whether it failed.
    losses_at : tuple of float
        Live time under this plan before each bout of losses, s.
    watched_s : float
        Live time under this plan, s.
    otherwise : int
        Failures in tries under another plan. What worked there is not carried: with a plan chosen
        after it was seen, no risk could be stated.
    """

    failed: tuple[bool, ...] = ()
    losses_at: tuple[float, ...] = ()
    watched_s: float = 0.0
    otherwise: int = 0


@kept
class References:
    """All of them; what there is nothing of is left out.

    Attributes
    ----------
    earlier_soaks : tuple of EarlierSoak
        Of this job, by the ledger.
    came_back : tuple of BackSettled
        Kept for people: what a unit was sent back for, and how that ended.
    challenge : BenchProved or None
    proved : UnitProved or None
    stated : Stated
    intake : bool
        It looks for the fault, so that the repair can be measured.
    complaint : str
        Of an intake: what the owner says is wrong; kept for people.
    pool : tuple of Counts
        Of units like it, one each.
    heat_reference : tuple of HeatReference
    start_times : tuple of StartTimes
    switch_worked : tuple of ChannelWorked
    left_out : tuple of str
        Functions that the claim leaves out.
    jobs_before : tuple of Json
        What the jobs before saw; read by `derive.jobs_before`, which refuses what it does not know.
    carried : mapping of requirement id to Carried
        What earlier tries bring along into sequential plans.
    seen_before : SeenBefore or None
    """

    earlier_soaks: tuple[EarlierSoak, ...] = maybe(default=())
    came_back: tuple[BackSettled, ...] = maybe(default=())
    challenge: BenchProved | None = maybe(default=None)
    proved: UnitProved | None = maybe(default=None)
    stated: Stated = maybe(default=Stated())
    intake: bool = maybe(default=False)
    complaint: str = maybe(default="")
    pool: tuple[Counts, ...] = maybe(default=())
    heat_reference: tuple[HeatReference, ...] = maybe(default=())
    start_times: tuple[StartTimes, ...] = maybe(default=())
    switch_worked: tuple[ChannelWorked, ...] = maybe(default=())
    left_out: tuple[str, ...] = maybe(default=())
    jobs_before: tuple[Json, ...] = maybe(default=())
    carried: Mapping[str, Carried] | None = maybe(default=None)
    seen_before: SeenBefore | None = maybe(default=None)
