"""The unit, as it was stated when a soak began: what was repaired, wiped, and came back."""

from soak.frozen.shape import kept, maybe


@kept
class RepairStated:
    """One repair.

    Attributes
    ----------
    id, what, kind : str
        By the ledger; what was done, and why the part had failed.
    function : str
        Name of the function of the model sheet that it is of.
    on : str
        The day, ISO 8601.
    job_id : str
        The job it belongs to.
    at : float
        Its place in the order of the ledger's entries; 0: an older program did not keep it.
    """

    id: str = ""
    what: str = ""
    function: str = ""
    kind: str = ""
    on: str = ""
    job_id: str = ""
    at: float = 0.0


@kept
class WipedStated:
    """How data was removed, how that was verified, by whom and on which day."""

    how: str = ""
    verified: str = ""
    by: str = "?"
    on: str = "?"


@kept
class BackStated:
    """That it came back after a sale; `hazard` is empty where it was none."""

    on: str = ""
    complaint: str = ""
    hazard: str = ""


@kept
class OpenedStated:
    """That it was opened while the soak ran; the ledger knew it afterwards."""

    on: str = ""
    why: str = ""


@kept
class UnitStated:
    """The unit.

    Attributes
    ----------
    serial, tag : str
        As its maker and as the workshop marked it.
    model : str
        By the name of the model sheet's file.
    repairs : tuple of RepairStated
        Those of all its jobs.
    wiped : WipedStated or None
        None: no wiping is on record.
    came_back : tuple of BackStated
        Kept for people; what counts of it stands among the references.
    opened_during : tuple of OpenedStated
        Never in a sealed header: put in where a header is restated.
    """

    serial: str = ""
    tag: str = ""
    model: str = ""
    repairs: tuple[RepairStated, ...] = ()
    wiped: WipedStated | None = None
    came_back: tuple[BackStated, ...] = ()
    opened_during: tuple[OpenedStated, ...] = maybe(default=())
