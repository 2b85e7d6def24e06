"""The script, resolved, as a header keeps it."""

from collections.abc import Mapping
from dataclasses import field

from soak.frozen.shape import Json, kept, maybe


@kept
class PlannedStretch:
    """One stretch.

    Attributes
    ----------
    name : str
    lasts_s : float or None
        s; 0 or None: until its checks come to their end.
    attended : bool
        Whether a person is there and can be asked.
    plan : Json or None
        The sequential plan that may end it early; `statistics.frozen` reads it.
    checks : mapping of name to Json
        Settings of each check, which its own class reads.
    """

    name: str = ""
    lasts_s: float | None = None
    attended: bool = False
    plan: Json | None = maybe(default=None)
    checks: Mapping[str, Json] = field(default_factory=dict)


@kept
class PlannedScript:
    """A script.

    Attributes
    ----------
    name, about : str
        What it is called, and what it is for.
    file : str
        Where it lay; kept for people, and for whoever resumes it.
    not_after_s : float
        Longest time that it may take, s.
    confidence, blind_allowed : float
        Level of the bounds stated; share of a stretch in which the bench may be blind.
    longest_blind_s : float
        Longest single blindness, s.
    listing : bool
        Whether a soak by it may go with a listing.
    beside : bool
        Whether it stands beside the job's soaks and replaces none.
    stretches : tuple of PlannedStretch
    """

    name: str = ""
    file: str = ""
    about: str = ""
    not_after_s: float = 0.0
    confidence: float = 0.95
    blind_allowed: float = 0.02
    longest_blind_s: float = 300.0
    listing: bool = True
    beside: bool = maybe(default=False)
    stretches: tuple[PlannedStretch, ...] = ()

    def stretch(self, name: str) -> PlannedStretch:
        """Return a stretch; one that holds nothing if there is none of that name."""
        return next((one for one in self.stretches if one.name == name), PlannedStretch(name=name))
