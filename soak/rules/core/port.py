"""Rules on the unit's port judge only soaks in which data crosses that port."""

from collections.abc import Callable, Sequence
from functools import wraps
from typing import TypeAlias, TypeVar

from soak.derive.course import Course
from soak.frozen.sheet import as_named
from soak.records import Requirement
from soak.rules.core.finding import not_tested
from soak.rules.core.verdict import Finding
from soak.terms import terms
from soak.words import Message, msg

BENCH_ONLY = msg(
    "the stick hung on the bench's own computer, which says nothing about the unit's port"
)
_HERE = "bench_only"
_NOWHERE = ""


@terms
class PortTerms:
    """Which way data takes.

    Attributes
    ----------
    port : str
        The unit's port, by its name in the model sheet.
    path : str
        How data comes to the stick, as a fixture states it; empty: nothing was wired.
    over : str
        What the model sheet calls the port; empty: it does not say.
    """

    port: str = ""
    path: str = "through"
    over: str = ""

    @property
    def called(self) -> str:
        """What the port is called, to stand behind "the"."""
        return as_named(self.over)

    @property
    def on_the_bench(self) -> bool:
        """Whether the stick hangs on the bench's own computer, or nowhere."""
        return self.path in (_HERE, _NOWHERE)


P = TypeVar("P", bound=PortTerms)
Judge: TypeAlias = Callable[[Requirement, P, Sequence[Course]], Finding]


def on_units_port(judge: Judge[P]) -> Judge[P]:
    """Let a rule judge only soaks in which data crosses the unit's own port."""

    @wraps(judge)
    def judged(need: Requirement, terms: P, soaks: Sequence[Course]) -> Finding:
        crossing = [course for course in soaks if course.stick_proves_unit]
        if terms.on_the_bench or not crossing:
            return not_tested(need, BENCH_ONLY)
        return judge(need, terms, crossing)

    return judged


def over_words(terms: PortTerms) -> Message:
    """Say over what data crosses, to stand within a sentence."""
    if terms.path == _NOWHERE:
        return msg("over a USB port of the unit")
    if terms.path == _HERE:
        return msg("over the bench's own port (this says nothing of the unit)")
    if not terms.over:
        return msg("over the unnamed port")
    return msg("over the {port}", port=terms.called)


def at_words(terms: PortTerms) -> Message:
    """Say where a stick hangs, to stand within a sentence."""
    if terms.path == _NOWHERE:
        return msg("at a USB port of the unit")
    if terms.path == _HERE:
        return msg("at the bench's own port (this says nothing of the unit)")
    if not terms.over:
        return msg("at the unnamed port")
    return msg("at the {port}", port=terms.called)
