"""What has to be run again, and for how long, so that what was not shown can be shown."""

from dataclasses import dataclass

from soak.rules.core.verdict import Finding


@dataclass(frozen=True, slots=True, kw_only=True)
class Lack:
    """What a finding without enough evidence lacks.

    Attributes
    ----------
    lacks_s : float or None
        Observed time, s; None where a number of starts is lacking.
    lacks_starts : int or None
        Starts.
    whole_s, whole_starts : float or None, int or None
        What all of it would be.
    unbroken : bool
        Whether it needs one run without a break.
    adds_up : bool
        Whether time of other soaks of the job counts along.
    """

    lacks_s: float | None = None
    lacks_starts: int | None = None
    whole_s: float | None = None
    whole_starts: int | None = None
    unbroken: bool = False
    adds_up: bool = False


def nothing(finding: Finding, terms: object, lasts_s: float | None) -> None:
    """Say that running on would not help: a person has to do something."""


def time(finding: Finding, terms: object, lasts_s: float | None) -> Lack | None:
    """Say how much observed time of its stretch, which lasts `lasts_s`, a finding lacks."""
    enough = not finding.covered or any(cover.enough for cover in finding.covered)
    if enough and finding.value is not None:
        return None  # measured, and not shown for another reason
    promised = [coverage.promised_s for coverage in finding.covered if coverage.promised_s]
    whole_s = max(promised, default=lasts_s)
    if not whole_s:
        return None
    best = max(finding.covered, key=lambda one: one.observed_s, default=None)
    # Time that was blind is lacking also where the stretch went on until it had seen enough.
    lacks_s = max(whole_s - best.observed_s, best.blind_s) if best else whole_s
    return Lack(lacks_s=lacks_s if lacks_s > 0 else whole_s, whole_s=whole_s)


def unbroken(finding: Finding, terms: object, lasts_s: float | None) -> Lack | None:
    """Say the same of what needs one run without a break: pieces of it show nothing."""
    lack = time(finding, terms, lasts_s)
    return lack and Lack(lacks_s=lack.lacks_s, whole_s=lack.whole_s, unbroken=True)


def starts(finding: Finding, promised: int | None) -> Lack | None:
    """Say how many of the promised starts a finding lacks; all, if they were watched."""
    if not promised:
        return None
    watched = round(finding.over or 0)
    short = promised - watched if watched < promised else promised
    return Lack(lacks_starts=short, whole_starts=promised)
