"""What people were asked, said and did."""

from typing import Literal

from soak.marks.fact import Fact, mark, maybe
from soak.words import NOTHING_SAID, Message


@mark("question")
class QuestionAsked(Fact):
    """The operator was asked; `wait_s`: how long an answer is waited for (0: not on record)."""

    id: str
    text: Message = NOTHING_SAID
    expects: Literal["done", "yes/no", "number"] = "done"
    unit: str = maybe(default="")
    initials: bool = maybe(default=False)
    photograph: Literal["", "may", "must"] = maybe(default="")
    wait_s: float = maybe(default=0.0)


@mark("answer")
class Answered(Fact):
    """What the operator said; None: nobody in time. `photograph` names a kept file."""

    id: str = ""
    answer: str | float | None = None
    by: str = ""
    initials: str = maybe(default="")
    photograph: str = maybe(default="")


@mark("note")
class Noted(Fact):
    """The operator's word about a span of time; `was_me`: a hand at unit or bench."""

    text: str = ""
    by: str = ""
    was_me: bool = False
    from_s: float | None = maybe(default=None)
    to_s: float | None = maybe(default=None)


@mark("plugged in")
class PluggedIn(Fact):
    """A plug went into a port on cue.

    Attributes
    ----------
    pulled, seen, held, blind : bool
        Whether it was seen to leave before, came, stayed with hands off, and whether the bench was
        blind meanwhile.
    took_s : float or None
        From the hand's word to the device or picture, s.
    bounces : int
        How often it came and went before it stayed.
    """

    port: str = ""
    plug: str = ""
    side: str = ""
    number: int | None = maybe(default=None)
    cable: str = ""
    source: str = ""
    from_s: float | None = maybe(default=None)
    to_s: float | None = maybe(default=None)
    pulled: bool = False
    seen: bool = False
    held: bool = False
    blind: bool = False
    took_s: float | None = None
    speed_mbps: float | None = None
    bounces: int = 0


@mark("movement begins")
class MovementBegins(Fact):
    """A plug is moved on cue, or left alone."""

    port: str = ""
    movement: str = ""
    repeat: int = 0
    by: str = "hand"
    cue: Message = NOTHING_SAID
    lasts_s: float = 0.0


@mark("movement ends")
class MovementEnds(Fact):
    """That movement is over; `whole`: it was made to its end."""

    port: str = ""
    movement: str = ""
    repeat: int = 0
    by: str = "hand"
    force: str | None = None
    whole: bool = True
