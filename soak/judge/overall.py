"""What several bounds say together: six bounds at 95 % do not all hold at 95 %."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from soak.records import Requirement
from soak.rules.core.verdict import Finding
from soak.statistics.bounds import checked_confidence
from soak.words import Message, Number, Percent, all_of, msg, paragraph

_WHOLE_SOAK = ""


@dataclass(frozen=True, slots=True)
class Overall:
    """How sure it is that several bounds hold together.

    Attributes
    ----------
    bounds : int
        Number of bounds.
    level : float
        The lowest confidence at which one of them is stated.
    missed : float
        How many of them do not hold, on the mean and at most.
    at_least : float
        Confidence that all hold, whatever binds them (Bonferroni).
    each_for_all : float
        Confidence at which each would have to be stated for all to hold at `level`.
    overlapping : sequence of (str, int)
        Where several of them count in the same record: the stretch, empty for a whole soak, and how
        many.
    """

    bounds: int
    level: float
    missed: float
    at_least: float
    each_for_all: float
    overlapping: Sequence[tuple[str, int]] = ()


def together(confidences: Sequence[float], overlapping: Sequence[tuple[str, int]] = ()) -> Overall:
    """Return how sure it is that bounds of these confidences hold all at once.

    Raises
    ------
    ValueError
        If there is none, or one does not lie between 0 and 1.

    References
    ----------
    Bonferroni's inequality, NIST/SEMATECH e-Handbook 7.4.7.3: it holds whatever binds the bounds.
    """
    if not confidences:
        raise ValueError("there is no bound to speak of")
    for confidence in confidences:
        checked_confidence(confidence)
    missed = sum(1 - confidence for confidence in confidences)
    level = min(confidences)
    each = 1 - (1 - level) / len(confidences)
    return Overall(
        len(confidences),
        level,
        missed,
        at_least=max(0.0, 1 - missed),
        each_for_all=each,
        overlapping=overlapping,
    )


def overall_of_needs(needs: Sequence[Requirement]) -> Overall | None:
    """Return how sure it is that the bounds of these demands all hold; None if they state none."""
    stated = [need for need in needs if need.confidence is not None]
    if not stated:
        return None
    return together([need.confidence or 0.0 for need in stated], _overlapping(stated))


def overall_of(findings: Sequence[Finding]) -> Overall | None:
    """Return how sure it is that all bounds of these findings hold; None if none is stated.

    Guard bands are no confidence bounds and are left out.
    """
    return overall_of_needs(
        [finding.requirement for finding in findings if finding.bound_high is not None]
    )


def in_words(overall: Overall) -> Message:
    """Say it in a sentence, and in a second one which bounds overlap."""
    if overall.bounds == 1:
        return msg(
            "One bound is stated, at {level} confidence.", level=Percent(overall.at_least, 1)
        )
    sentence = msg(
        "{bounds} bounds are stated, each sure by itself to at least {level}: on the mean up to "
        "{missed} of them do not hold, and for all at once to hold at {level} each would have to "
        "be stated at {each} (Bonferroni).",
        bounds=overall.bounds,
        level=Percent(overall.level),
        missed=Number(overall.missed, ".2g"),
        each=Percent(overall.each_for_all, 2),
    )
    if not overall.overlapping:
        return sentence
    where = [
        msg("{number} in {stretch}", number=number, stretch=stretch)
        if stretch != _WHOLE_SOAK
        else msg("{number} over the whole soak", number=number)
        for stretch, number in overall.overlapping
    ]
    overlap = msg(
        "These overlap, for they count in the same record, and hold or fail largely together: "
        "{where}.",
        where=all_of(where),
    )
    return paragraph(sentence, overlap)


def _overlapping(needs: Sequence[Requirement]) -> list[tuple[str, int]]:
    """Return where at least two bounds count in the record of one source."""
    of = [need.quantity.partition(".")[0] for need in needs]
    pairs = list(zip(of, needs, strict=True))
    whole = {source for source, need in pairs if need.stretch == _WHOLE_SOAK}
    records = Counter(
        (source, _WHOLE_SOAK if source in whole else need.stretch) for source, need in pairs
    )
    return [(stretch, number) for (_, stretch), number in records.items() if number > 1]
