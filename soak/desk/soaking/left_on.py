"""Whether a soak that was cut off left its unit on, with nobody there to switch it off."""

from collections.abc import Sequence

from soak.errors import JournalError
from soak.journal import JournalEvidence
from soak.marks import PowerChanged, facts
from soak.run.guard.log import Entry, read_log


def left_on_s(evidence: JournalEvidence) -> float | None:
    """Return since when nobody has guarded a unit that was left on, s of soak time; None if off.

    The guard's log tells of an off that the journal could not take any more.
    """
    if evidence.seal is not None or "switch" not in evidence.header.fixture.roles:
        return None
    entries = _log(evidence)
    switched = [(mark.t_s, power.on) for mark, power in facts(evidence, PowerChanged)]
    switched += [
        (entry.t_s, bool(entry.detail.get("on"))) for entry in entries if entry.what == "power"
    ]
    if not switched or not max(switched, key=lambda one: one[0])[1]:
        return None
    return max(evidence.ends_s, *(entry.t_s for entry in entries), 0.0)


def _log(evidence: JournalEvidence) -> Sequence[Entry]:
    try:
        return read_log(evidence.path.parent)
    except JournalError:  # `soak show` and the judgement say what is wrong with it
        return ()
