"""When two serials are taken for the same, or for one typed wrong.

The rule, from the nearest to the farthest:

`the same serial`
    equal once case is ignored and everything but letters and digits is dropped (spaces, dashes,
    dots, slashes; full-width and ligature forms are read as plain letters);
`reads alike`
    equal once O is read as 0, I as 1, S as 5 and B as 8 too, the signs that labels and tired
    eyes confuse;
`one character off`
    from the last form: one character put in, left out or replaced, or two neighbours swapped;
    only if the longer of the two has at least 6 characters, as shorter ones are near each other
    by chance.

Serials of one production batch are often one character off: that likeness is a hint to look at
the label again, never a reason to refuse an entry. The confusable pairs and the limit of 6 are
common practice, not from a standard.
"""

import unicodedata
from typing import Literal

Likeness = Literal["the same serial", "reads alike", "one character off"]

ORDER: tuple[Likeness, ...] = ("the same serial", "reads alike", "one character off")
"""From the nearest to the farthest."""

_SHORTEST_FOR_ONE_OFF = 6
_READ_AS = str.maketrans("OISB", "0158")


def plain(serial: str) -> str:
    """Return the serial's letters and digits alone, in capitals."""
    compatible = unicodedata.normalize("NFKC", serial).upper()
    return "".join(sign for sign in compatible if sign.isalnum())


def skeleton(serial: str) -> str:
    """Return the plain serial with confusable letters read as digits."""
    return plain(serial).translate(_READ_AS)


def likeness(one: str, other: str) -> Likeness | None:
    """Say how alike two serials are; None if they are not, or if one of them is empty."""
    if not plain(one) or not plain(other):
        return None
    if plain(one) == plain(other):
        return "the same serial"
    first = skeleton(one)
    second = skeleton(other)
    if first == second:
        return "reads alike"
    if max(len(first), len(second)) >= _SHORTEST_FOR_ONE_OFF and _one_off(first, second):
        return "one character off"
    return None


def one_unit(one: str, other: str) -> bool:
    """Tell whether two serials are taken for those of one unit: equal, or read alike.

    The second of two that read alike was entered against a warning; by it a bench could wash off
    what the first had failed.
    """
    return likeness(one, other) in ("the same serial", "reads alike")


def _one_off(first: str, second: str) -> bool:
    """Tell whether one put in, left out, replaced or swapped-with-neighbour turns one into two."""
    if abs(len(first) - len(second)) > 1:
        return False
    shorter, longer = sorted((first, second), key=len)
    at = next((i for i, sign in enumerate(shorter) if sign != longer[i]), len(shorter))
    if len(shorter) < len(longer):
        return shorter[at:] == longer[at + 1 :]
    replaced = shorter[at + 1 :] == longer[at + 1 :]
    swapped = shorter[at : at + 2] == longer[at : at + 2][::-1]
    return replaced or (swapped and shorter[at + 2 :] == longer[at + 2 :])
