"""What a way to lie is, and the list of them that the modules beside fill."""

from collections.abc import Callable
from dataclasses import dataclass

from lying.bench import Bench, Ending

FAILED_BEFORE = (
    r"\bfail(ed|s|ure|ures)?\b.*\b(before|earlier|since|times?|soak)|not ready: failed|"
    r"\b(before|earlier|since)\b.*\bfail|\b[1-9][0-9]* (\w+ ){0,2}(breaks?|dropouts?|failures?)\b|"
    r"\b[1-9][0-9]* loss(es)? of .* before"
)
"""Some word of what was seen to fail, or a count of it."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way to try to get a bad unit to ready.

    Attributes
    ----------
    does : callable
        Given the liar's bench, does it by the real commands; returns what it ends in.
    says : str
        Pattern of what a buyer must read if the unit comes out ready all the same.
    never : bool
        Whether no word makes a ready right here.
    leaves : str
        No program on the liar's own computer can prevent it; what stays to be seen. Else empty.
    truth, function : str
        What is really wrong with the unit, and which function its repair is said to give back.
    quick : bool
        Whether it is among the handful of `--short`.
    real : bool
        Whether it takes real time, on real drivers.
    """

    name: str
    does: Callable[[Bench], Ending]
    says: str
    never: bool
    leaves: str
    truth: str
    function: str
    quick: bool
    real: bool


WAYS: list[Way] = []


def way(
    name: str,
    *,
    says: str = FAILED_BEFORE,
    never: bool = False,
    leaves: str = "",
    truth: str = "drops",
    function: str = "video",
    quick: bool = False,
    real: bool = False,
) -> Callable[[Callable[[Bench], Ending]], Callable[[Bench], Ending]]:
    """Add a function to the list of ways; see `Way`."""

    def add(does: Callable[[Bench], Ending]) -> Callable[[Bench], Ending]:
        WAYS.append(Way(name, does, says, never, leaves, truth, function, quick, real))
        return does

    return add
