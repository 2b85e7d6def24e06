"""What the jobs before saw of a unit, as a soak's header keeps it: failures, repairs, the order."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Any

from soak.errors import JournalError, told_of
from soak.frozen.unit import RepairStated
from soak.records import Header, Json
from soak.terms import params_of, terms, terms_from
from soak.words import msg

MISSING = "journal missing"
"""Why a journal was not read that is not there any more."""


class FailureKind(StrEnum):
    """Failures of the unit that are counted one by one, in time watched or in starts."""

    PICTURE = "picture"
    RESTARTS = "restarts"
    STARTS = "starts"
    DATA = "data"
    PORT = "port"
    MOVED = "moved"


@terms
class Failures:
    """How often the unit failed in one way, and in what that was seen.

    Attributes
    ----------
    kind : FailureKind
    where : str
        The source at a port, or port and heat of a plug that was moved; else empty.
    events : int
        Failures charged to the unit.
    over : float
        Time watched, s; for starts their number.
    by_s : float or None
        A loss so long counts, or a start that takes longer, s.
    functions : tuple of str
        Functions of the model sheet that failed.
    bouts : int or None
        As few bouts as these failures may be; None: an older program did not count them.
    live : float or None
        Time in which a bout could begin and be told, s.
    """

    kind: FailureKind
    where: str = ""
    events: int
    over: float
    by_s: float | None = None
    functions: tuple[str, ...] = ()
    bouts: int | None = None
    live: float | None = None

    @property
    def bouts_told(self) -> int:
        """So many independent ones at least: starts each, of others bouts; untold, one bout."""
        if self.kind is FailureKind.STARTS:
            return self.events
        return min(1, self.events) if self.bouts is None else self.bouts

    @property
    def live_told(self) -> float:
        """In what they were counted, s; of starts their number."""
        return self.over if self.live is None else self.live


@terms
class Demand:
    """A demand that is met or not as a whole, as one soak met it or failed it.

    Attributes
    ----------
    requirement : Json
        The demand; without keys where the guard cut the power and no demand spoke of it.
    source : str
        What it is about.
    met : bool
    timed : bool
        Whether it shows the more, the longer it is watched.
    lasted_s : float
        Time with power in which it was watched, s.
    ambient_degc : float or None
        Mean ambient meanwhile, where heat is meant and it was measured.
    functions : tuple of str
        Functions of the model sheet that it shows.
    """

    requirement: Mapping[str, Any]
    source: str = ""
    met: bool
    timed: bool = True
    lasted_s: float = 0.0
    ambient_degc: float | None = None
    functions: tuple[str, ...] = ()


@terms
class Saw:
    """What one soak saw of a unit."""

    failures: tuple[Failures, ...] = ()
    demands: tuple[Demand, ...] = ()


@terms
class SoakBefore(Saw):
    """One soak of an earlier job.

    Attributes
    ----------
    grade, reason : str
        As the ledger has them.
    at : float
        Its place in the order of the ledger's entries.
    intake : bool
        It looked for the fault, so that the repair can be measured.
    unread : str
        Why its journal says nothing (it is gone or damaged); empty if it was read.
    unknown : bool
        The ledger does not know it.
    """

    soak_id: str
    script: str = ""
    on: str = ""
    grade: str = ""
    reason: str = ""
    at: float
    intake: bool = False
    unread: str = ""
    unknown: bool = False


@terms
class JobBefore:
    """One earlier job of the unit, under whatever tag.

    Attributes
    ----------
    came_back : bool
        The unit was sold after it and came back.
    """

    job_id: str
    tag: str
    why: str = ""
    begun: str = ""
    repairs: tuple[RepairStated, ...] = ()
    soaks: tuple[SoakBefore, ...] = ()
    came_back: bool = False


def jobs_before(header: Header) -> tuple[JobBefore, ...]:
    """Return the jobs before, as a header keeps them; none where an older program wrote it.

    Raises
    ------
    JournalError
        If this version cannot read it.
    """
    try:
        return tuple(terms_from(JobBefore, job) for job in header.references.jobs_before)
    except (ValueError, TypeError) as fault:
        raise JournalError(
            msg(
                "soak {soak}: what its header says of the jobs before cannot be read ({why}); "
                "update soak",
                soak=header.soak_id,
                why=told_of(fault),
            )
        ) from None


def as_reference(jobs: Sequence[JobBefore]) -> tuple[Json, ...]:
    """Return them as a header's references keep them."""
    return tuple(params_of(job) for job in jobs)


def repairs_now(header: Header) -> list[RepairStated]:
    """Return the repairs of the header's own job."""
    return [repair for repair in header.unit.repairs if repair.job_id == header.job_id]


def moved_at(port: str, heat: str) -> str:
    """Return where a plug is moved, as `Failures.where` says it."""
    return f"{port} {heat}"


def moved_port(where: str) -> tuple[str, str]:
    """Return port and heat of where a plug is moved; see `moved_at`."""
    port, _, heat = where.rpartition(" ")
    return port, heat


def moved_before(header: Header, port: str, heat: str) -> Failures:
    """Return how often moving the plug of a port opened it in the jobs before.

    Headers of older programs kept the newest intake alone, under `seen_before`.
    """
    here = moved_at(port, heat)
    seen = [
        failure
        for job in jobs_before(header)
        for soak in job.soaks
        for failure in soak.failures
        if failure.kind is FailureKind.MOVED and failure.where == here
    ]
    older = header.references.seen_before
    like_it = [before for before in older.moved if before.heat == heat] if older is not None else []
    if not seen and like_it and older is not None and older.port == port:
        events = int(like_it[0].events)
        over_s = like_it[0].hours * 3600
        seen = [Failures(kind=FailureKind.MOVED, where=here, events=events, over=over_s)]
    return Failures(
        kind=FailureKind.MOVED,
        where=here,
        events=sum(failures.events for failures in seen),
        over=sum(count.over for count in seen),
        bouts=sum(count.bouts_told for count in seen),
        live=sum(count.live_told for count in seen),
    )
