"""What earlier tries bring along into the sequential plans of a soak, frozen into its header."""

from collections.abc import Mapping

from soak.derive.course import course_of
from soak.derive.sequential import carried
from soak.desk.bench_folder import BenchFolder
from soak.desk.soaking.grading import others_of
from soak.errors import JournalError
from soak.frozen.references import Carried
from soak.ledger.ledger import Ledger
from soak.records import Header
from soak.terms import counted_by


def tries_before(
    bench: BenchFolder, ledger: Ledger, header: Header
) -> Mapping[str, Carried] | None:
    """Return `carried` of a header's references; None where nothing is decided by a plan.

    Parameters
    ----------
    header : Header
        As the soak would begin.
    """
    planned = [need for need in header.requirements if counted_by(need).plan]
    if not planned:
        return None
    try:
        earlier, _ = others_of(bench, ledger, header)
    except JournalError:
        earlier = []  # no grade comes of the job while one of its journals cannot be read
    courses = [course_of(evidence) for evidence in earlier]
    return {need.id: carried(need, courses) for need in planned}
