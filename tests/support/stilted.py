"""Words as a form has them that was filled in, and as nobody says them."""

import re
from collections.abc import Iterator

STILTED = {
    "an amount of nothing": r"\bat most 0(?![.,\d])(?! °C| K)",
    "all of one": r"\bAll 1\b",
    "a prefix twice": r"[Nn]ot tested: [Nn]ot tested",
    "nothing came wrong": r"\b0 B (came|did)",
    "a word twice": r"\b(?i:(the|a|of|in|is|was|not|and|to|for|by|at) \1)\b",
    "one of many": r"(?<!stretch )\b1 (starts|breaks|losses|soaks|files|faults|restarts)\b",
    "an empty place": r"\(\)|: ;|; ;|\(; |, ,",
    "nobody": r"\bNone\b(?! known)|\bnan\b",
}


def stilted(text: str) -> Iterator[tuple[str, str]]:
    """Yield what is stilted in a text, and the line that is."""
    for what, pattern in STILTED.items():
        if wrong := re.search(f".*(?:{pattern}).*", text):
            yield what, wrong[0]
