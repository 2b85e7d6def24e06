"""What counts in a soak where no demand says otherwise, as its header has it."""

from collections.abc import Sequence

from soak import states
from soak.derive.starting.starts import Start, first_times_s
from soak.errors import JournalError, told_of
from soak.records import Header
from soak.states import StartLimit
from soak.terms import UnitTerms, terms_from
from soak.words import msg


def unit_terms(header: Header) -> UnitTerms:
    """Read what counts as lost, and how long a start may take, where no demand says otherwise.

    Raises
    ------
    JournalError
        If the header says it in a way that this version cannot read.
    """
    try:
        return terms_from(UnitTerms, header.terms)
    except ValueError as fault:
        raise JournalError(
            msg(
                "soak {soak}: what its header says of losses and starts cannot be read "
                "({why}); update soak",
                soak=header.soak_id,
                why=told_of(fault),
            )
        ) from None


def start_limit(
    header: Header, starts: Sequence[Start], demanded_s: float | None = None
) -> StartLimit:
    """Return the longest time that a good start takes in a soak, and who says so.

    As demanded, else as the header has it; an old header that has none is read by today's rule
    from its model sheet. What nobody stated the unit's first starts may draw closer.

    Parameters
    ----------
    demanded_s : float or None
        As a demand states it, s.
    """
    limit = _known(header, unit_terms(header))
    if demanded_s is None:
        return states.drawn_closer(limit, first_times_s(starts))
    if limit.stated and limit.limit_s == demanded_s:
        return limit
    return StartLimit(demanded_s, "demand")


def _known(header: Header, told: UnitTerms) -> StartLimit:
    if told.start_limit_s is None:
        return states.start_limit(header.model_sheet)
    says = told.start_limit_from or "demand"
    return StartLimit(told.start_limit_s, says, told.start_limit_of or 0.0)
