"""Look the unit over before power: what only eyes and hands can tell."""

from collections.abc import Mapping, Sequence
from typing import ClassVar, Literal

from pydantic import Field, field_validator

from soak.checks.base import Bench, Done, Place, Say
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.roles import Question
from soak.rules.answered import ANSWERED, USUAL, AnsweredTerms, question_words
from soak.settings import Seconds, Settings


class Card(Settings):
    """One question to the operator.

    Attributes
    ----------
    text : str
        The question, answered yes or no.
    wanted : str
        The answer of a unit that may go on; another one, or none, ends the soak before power.
    """

    text: str = Field(min_length=1)
    wanted: Literal["yes", "no"] = "yes"


_USUAL = {
    name: Card(text=str(question), wanted="no" if name == "damage" else "yes")
    for name, question in USUAL.items()
}


class LookSettings(Settings):
    """Settings of the check `look`.

    Attributes
    ----------
    cards : mapping of name to Card
        The questions, in this order.
    wait_s : float
        How long to wait for each answer, s.
    """

    cards: dict[str, Card] = _USUAL
    wait_s: Seconds = Field(default=600.0, gt=0)

    @field_validator("cards", mode="before")
    @classmethod
    def _asked_before_power(cls, cards: object) -> object:
        for name, card in cards.items() if isinstance(cards, Mapping) else ():
            if isinstance(card, Mapping) and "function" in card:
                raise ValueError(
                    f"the look-over comes before power, and {name} asks for a function; write it "
                    f"as [stretch.by_hand.cards.{name}] in a stretch of its own"
                )
        return cards


class Look:
    """Ask the cards one after another; without the wanted answer the runner ends the soak."""

    name: ClassVar[str] = "look"
    settings: ClassVar[type[Settings]] = LookSettings
    needs: ClassVar[frozenset[Role]] = frozenset()
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, LookSettings)
        self._cards = settings.cards
        self._wait_s = settings.wait_s
        self._place = place

    def sources(self) -> Sequence[str]:
        return ()

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        return [
            ANSWERED.demand(
                AnsweredTerms(text=card.text, wanted=card.wanted),
                id=f"{self._place.stretch}/look/{name}",
                check=self.name,
                stretch=self._place.stretch,
                quantity=self._id(name),
            )
            for name, card in self._cards.items()
        ]

    def expected_s(self) -> float:
        return 60.0 * len(self._cards)

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        for name, card in list(self._cards.items())[done.count :]:
            question = Question(
                self._id(name),
                question_words(card.text),
                "yes/no",
                wait_s=self._wait_s,
                wanted=card.wanted,
            )
            if not question.agreed(await bench.ask(question)):
                return

    def _id(self, name: str) -> str:
        return f"{self._place.stretch}/{name}"


THE_CHECK = Look
