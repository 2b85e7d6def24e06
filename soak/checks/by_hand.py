"""By hand: functions that only a person can judge, asked one after another with the power on."""

from collections.abc import Iterable, Sequence
from typing import ClassVar, Literal

from pydantic import Field, model_validator

from soak.checks.base import Bench, Done, Place, Say
from soak.errors import ScriptError
from soak.mistakes import Mistakes
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.roles import Question
from soak.rules.answered import JUDGED_BY_HAND, JudgedTerms, card_words
from soak.rules.core.rule import Plain
from soak.settings import Seconds, Settings, nearest_name
from soak.words import Message, joined, msg


class FunctionCard(Settings):
    """One function of the unit, and what the operator is asked of it.

    Attributes
    ----------
    function : str
        Its name in the model sheet: what the answer shows, and a repair of it.
    question : str or None
        What is done and asked, answered yes or no; None: whether it works, tried as by a buyer.
    wanted : str
        The answer of a unit that works.
    photograph : bool
        Whether an answer counts only with a photograph.
    """

    function: str = Field(min_length=1)
    question: str | None = Field(default=None, min_length=1)
    wanted: Literal["yes", "no"] = "yes"
    photograph: bool = False


class ByHandSettings(Settings):
    """Settings of the check `by_hand`.

    Attributes
    ----------
    cards : mapping of name to FunctionCard
        The questions, in this order.
    every_function : bool
        Ask of every function of the model sheet that no card names, too.
    wait_s : float
        How long to wait for each answer, s.
    """

    cards: dict[str, FunctionCard] = Field(default_factory=dict)
    every_function: bool = False
    wait_s: Seconds = Field(default=600.0, gt=0)

    @model_validator(mode="after")
    def _asks(self) -> "ByHandSettings":
        if not self.cards and not self.every_function:
            raise ValueError(msg("asks nothing; add a card, or every_function = true"))
        return self

    def asked_of(self, functions: Iterable[str]) -> dict[str, FunctionCard]:
        """Return all cards for a model with such functions."""
        named = {card.function for card in self.cards.values()}
        more = [name for name in functions if name not in named] if self.every_function else []
        return {**self.cards, **{name: FunctionCard(function=name) for name in more}}


class ByHand:
    """Ask the cards one after another; who judged puts initials to each answer."""

    name: ClassVar[str] = "by_hand"
    settings: ClassVar[type[Settings]] = ByHandSettings
    needs: ClassVar[frozenset[Role]] = frozenset()
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, ByHandSettings)
        self._cards = settings.asked_of(place.model_sheet.functions)
        self._wait_s = settings.wait_s
        self._place = place

    def sources(self) -> Sequence[str]:
        return ()

    def by_person(self) -> frozenset[Role]:
        """Return no role: what a card asks no instrument could tell."""
        return frozenset()

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        """Return a demand a card.

        Raises
        ------
        ScriptError
            If a card names no function of the model, or nobody is there to be asked.
        """
        wrong = Mistakes(self._place.stretch, ScriptError)
        if not self._place.attended:
            wrong.add(self.name, msg("asks the operator; say attended = true for its stretch"))
        for name, card in self._cards.items():
            self._refuse_unknown(name, card, wrong)
        wrong.tell()
        return [self._demand(name, card) for name, card in self._cards.items()]

    def expected_s(self) -> float:
        return 60.0 * len(self._cards)

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        for name, card in list(self._cards.items())[done.count :]:
            question = Question(
                self._id(name),
                self._question(card),
                "yes/no",
                wait_s=self._wait_s,
                wanted=card.wanted,
                photograph="must" if card.photograph else "",
                initials=True,
            )
            await bench.ask(question)

    def _question(self, card: FunctionCard) -> Message:
        return card_words(
            self._place.model_sheet.functions[card.function].text, card.question or ""
        )

    def _refuse_unknown(self, name: str, card: FunctionCard, wrong: Mistakes) -> None:
        functions = self._place.model_sheet.functions
        if card.function not in functions:
            at = f"{self.name}.cards.{name}.function"
            model = self._place.model_sheet.model or "this model"
            known = msg("its sheet names none")
            if functions:
                known = msg("it has {functions}", functions=joined(", ", functions))
            what = msg(
                "{model} has no function {function}; {known}",
                model=model,
                function=repr(card.function),
                known=known,
            )
            wrong.add(at, what, nearest_name(card.function, list(functions)))

    def _demand(self, name: str, card: FunctionCard) -> Requirement:
        functions = self._place.model_sheet.functions
        plain: Plain = {
            **self._place.plain(self.name, name, needs=frozenset()),
            "shows_repair": frozenset({card.function}),
        }
        return JUDGED_BY_HAND.demand(
            JudgedTerms(
                function=functions[card.function].text,
                text=card.question or "",
                wanted=card.wanted,
                photograph=card.photograph,
            ),
            quantity=self._id(name),
            **plain,
        )

    def _id(self, name: str) -> str:
        return f"{self._place.stretch}/by hand {name}"


THE_CHECK = ByHand
