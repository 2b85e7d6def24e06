"""What keeps a unit from being ready besides its requirements: said before a soak and after it."""

from collections.abc import Collection, Sequence

from soak.derive.course import Course
from soak.judge.before.words import not_outlived
from soak.judge.unit_or_switch import nobody_knows
from soak.records import Header
from soak.rules.core.verdict import Exercised, OpenPoint, Verdict
from soak.words import Said, msg, paragraph


def open_points(
    newest: Course,
    functions: Sequence[Exercised],
    shown: Collection[str],
    soaks: Sequence[Course],
) -> list[OpenPoint]:
    """Return what is still open after a soak.

    Parameters
    ----------
    newest : Course
        The newest soak: its end and its header count.
    functions : sequence of Exercised
        What the job's soaks came to, function by function.
    shown : collection of str
        Functions that a requirement which is met exercises.
    soaks : sequence of Course
        All soaks since the repair: their quiet is held against what the jobs before saw.
    """
    before = [OpenPoint("before", sentence) for sentence in not_outlived(soaks)]
    standing = _standing(newest.header, functions, shown, ahead=False)
    unknown = [OpenPoint("end", unsaid) for unsaid in nobody_knows(soaks)]
    return [*_end_of(newest), *_opened(newest.header), *unknown, *before, *standing]


def _opened(header: Header) -> list[OpenPoint]:
    return [
        OpenPoint(
            "end",
            msg(
                "The unit was opened while soak {soak} ran ({on}: {why}); soak it again.",
                soak=header.soak_id,
                on=opening.on,
                why=opening.why,
            ),
        )
        for opening in header.unit.opened_during
    ]


def open_ahead(header: Header, functions: Sequence[Exercised]) -> list[OpenPoint]:
    """Return what a planned soak cannot close, however well it goes.

    Parameters
    ----------
    header : Header
        As the soak would begin.
    functions : sequence of Exercised
        Judged with the planned soak still empty: what it can show is not shown yet, and only what
        no part of it exercises is not tested.
    """
    can_be = {function.name for function in functions if function.verdict is not Verdict.NOT_TESTED}
    return _standing(header, functions, can_be, ahead=True)


def _standing(
    header: Header, functions: Sequence[Exercised], shown: Collection[str], *, ahead: bool
) -> list[OpenPoint]:
    """Return the open repairs, key functions and data, where `shown` are or can be shown."""
    repairs = _repairs(header, functions, shown, ahead=ahead)
    named = {point.function for point in repairs}
    return [*repairs, *_untested(functions, {*shown, *named}, ahead=ahead), *_data(header)]


def _end_of(newest: Course) -> list[OpenPoint]:
    soak_id = newest.header.soak_id
    sentence = None
    if newest.seal is None:
        sentence = msg(
            "Soak {soak} is not sealed: it still runs or was cut off; resume it.", soak=soak_id
        )
    elif newest.seal.ended == "stopped":
        sentence = msg("Soak {soak} was stopped before its end.", soak=soak_id)
    elif newest.seal.ended == "bench fault":
        sentence = msg(
            "Soak {soak} ended with a fault of the bench; mend the bench and run on.", soak=soak_id
        )
    return [OpenPoint("end", sentence)] if sentence else []


def _repairs(
    header: Header, functions: Sequence[Exercised], shown: Collection[str], *, ahead: bool
) -> list[OpenPoint]:
    known = {exercised.name: exercised for exercised in functions}
    points = []
    for repair in header.unit.repairs:
        what: Said = repair.what or msg("unnamed")
        name = repair.function
        if not name:
            sentence = msg(
                "The repair ({what}) names no function, so nothing can show it.", what=what
            )
            points.append(OpenPoint("repair", sentence))
        elif name not in shown:
            function = known[name].text if name in known else name
            sentence = msg(
                "The repair ({what}) was not shown: no requirement on '{function}' was met.",
                what=what,
                function=function,
            )
            if ahead:
                sentence = msg(
                    "No part of this soak can show the repair ({what}) of '{function}': {why}.",
                    what=what,
                    function=function,
                    why=known[name].why if name in known else msg("the model sheet has it no more"),
                )
            points.append(OpenPoint("repair", sentence, name))
    return points


def _untested(
    functions: Sequence[Exercised], shown: Collection[str], *, ahead: bool
) -> list[OpenPoint]:
    """Return the key functions that nothing showed and the claim does not leave out."""
    claimed = [function for function in functions if function.key and not function.left_out]
    if functions and not claimed and not shown:
        sentence = msg("No function of the model sheet was tested, so nothing can be claimed.")
        if ahead:
            sentence = msg("No part of this soak can show a function of the model sheet.")
        return [OpenPoint("nothing shown", sentence)]
    points = []
    for exercised in claimed:
        # What was tested and not met, or not shown, is told by its requirements.
        if exercised.name in shown or exercised.verdict is not Verdict.NOT_TESTED:
            continue
        sentence = msg(
            "The key function '{function}' was not tested: {why}.",
            function=exercised.text,
            why=exercised.why,
        )
        if ahead:
            sentence = msg(
                "No part of this soak can show the key function '{function}': {why}.",
                function=exercised.text,
                why=exercised.why,
            )
        else:
            sentence = paragraph(sentence, _WHAT_TO_DO)
        points.append(OpenPoint("function", sentence, exercised.name))
    return points


_WHAT_TO_DO = msg(
    "Wire what shows it or take its check into the script, or leave it out of the claim before the "
    "next soak (left_out in the job's details)."
)


def _data(header: Header) -> list[OpenPoint]:
    holds_data = header.model_sheet.holds_data
    if holds_data is False or header.unit.wiped is not None:
        return []
    sentence = msg("This model holds data, and no wiping was recorded before the soak.")
    if holds_data is None:
        sentence = msg(
            "The model sheet does not say whether this model holds data, and no wiping was "
            "recorded before the soak."
        )
    return [OpenPoint("data", sentence)]
