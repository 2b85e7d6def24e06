"""What closes a point that keeps a unit from being ready: a command, or what to change."""

from soak.frozen.sheet import ModelSheet
from soak.rules.core.verdict import OpenPoint
from soak.words import Message, msg


def closing(point: OpenPoint, tag: str, sheet: ModelSheet) -> Message:
    """Return what closes a point.

    Parameters
    ----------
    tag : str
        The unit's.
    """
    match point.kind:
        case "data":
            return msg("soak unit wiped {tag} --how HOW --verified HOW --by WHO", tag=tag)
        case "nothing shown":
            return msg(
                "wire what shows one, and mark the key functions in the model sheet (key = true)"
            )
        case "failed":
            return mend(tag)
        case "journal":
            return put_back(tag)
        case "before":
            return outlive(tag)
        case "end":
            return msg("soak it again")
        case "repair" | "function":
            return _shown(point, tag, sheet)


def mend(tag: str) -> Message:
    """Return what closes a failure: another soak does not."""
    return msg("mend it, and say so first: soak unit opened {tag} WHY", tag=tag)


def put_back(tag: str) -> Message:
    """Return what closes a journal that is gone or cannot be read."""
    return msg(
        "put the journal back where it was, or begin anew: soak unit opened {tag} WHY", tag=tag
    )


def outlive(tag: str) -> Message:
    """Return what closes that the jobs before saw more than this one has outlived."""
    return msg(
        "soak for so long, or record the repair of what failed: soak unit repair {tag} WHAT "
        "--function F",
        tag=tag,
    )


def _shown(point: OpenPoint, tag: str, sheet: ModelSheet) -> Message:
    function = sheet.functions.get(point.function)
    show = msg("wire what shows it, or take its check into the script")
    if function is not None and not function.check:
        show = msg(
            "give [functions.{function}] a check in the model sheet", function=point.function
        )
    if point.kind == "repair":
        return show
    left_out = f'left_out = ["{point.function}"]'
    return msg(
        "{show}; or leave it out of the claim: soak unit details {tag}, then {left_out}",
        show=show,
        tag=tag,
        left_out=left_out,
    )
