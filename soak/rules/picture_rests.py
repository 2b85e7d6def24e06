"""What a freeze or a black may hide in: the model itself stands still, or is black, for so long."""

from soak.derive.course import Course
from soak.words import Amount, Message, msg, paragraph


def rests_allowed(course: Course) -> Message:
    """Return what cannot be told of shorter losses, by the longest rests on the model sheet."""
    still_s = course.header.model_sheet.longest_still_s
    black_s = course.header.model_sheet.longest_black_s
    return paragraph(
        msg(
            "A freeze shorter than {longest} is not told from a still of the model's own.",
            longest=Amount(still_s, "s"),
        )
        if still_s
        else None,
        msg(
            "A loss to black shorter than {longest} is not told from a black of the model's own.",
            longest=Amount(black_s, "s"),
        )
        if black_s
        else None,
    )
