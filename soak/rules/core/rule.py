"""What a judging rule is, and how it makes itself known."""

from collections.abc import Callable, Sequence

from soak.derive.course import Course
from soak.records import Requirement
from soak.rules.core.verdict import Finding

RULES = "1"
"""Version of the judging rules: raised when the same evidence may get another grade."""

Rule = Callable[[Requirement, Sequence[Course]], Finding]
"""Judges one requirement over the soaks that hold it; pure."""

REGISTERED: dict[str, Rule] = {}


def rule(name: str) -> Callable[[Rule], Rule]:
    """Register a judging rule under the name that requirements call it by.

    Raises
    ------
    ValueError
        If another rule has the name.
    """

    def keep(judging: Rule) -> Rule:
        if name in REGISTERED:
            raise ValueError(f"there are two rules called {name!r}")
        REGISTERED[name] = judging
        return judging

    return keep
