"""What a soak tells of its end: why it stopped, and what a person must look at."""

from soak.rules.answered import answer_words
from soak.words import Message, Number, msg

NOT_OFF = msg("the power could not be switched off; switch it off by hand")
STILL_ALIVE = msg("the switch says off and the unit still shows a picture; pull its plug")
UNSEEN = msg("nothing on this bench sees whether the unit goes off: look at it after the soak")


def unanswered(question: str) -> Message:
    """Say that nobody answered a question of the look-over."""
    return msg(
        "nobody answered the look-over ({question}); run it again and answer before power",
        question=question,
    )


def unwanted(question: str, answer: object) -> Message:
    """Say that the look-over gave an answer which rules the unit out."""
    return msg(
        "the look-over said {answer} to {question}",
        answer=answer_words(answer),
        question=question,
    )


def slept(for_s: float) -> Message:
    """Say that the host slept."""
    return msg("the host slept for {time} s; keep it awake and resume", time=Number(for_s, ".0f"))
