"""Coded clip: the unit plays our clip from the stick, the capture reads every frame back."""

from collections.abc import Sequence
from typing import ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.rules.core.port import PortTerms
from soak.rules.core.rule import Plain, Rule
from soak.rules.played import PLAYED_IN_COLOUR, PLAYED_STEADILY, PLAYED_WHOLE
from soak.settings import Settings

_COUNTS = ("came", "lost", "unseen", "stuttered", "out_of_order", "unread", "longest_run")
_ERRORS = ("colour_error", "colour_error.blue", "colour_error.green", "colour_error.red")


class CodedClipSettings(Settings):
    """Settings of the check `coded_clip`.

    Attributes
    ----------
    frames : int
        Frames in the clip, as `soak clip make` said.
    port : str
        The unit's port that the stick is in, by its name in the model sheet.
    lost_allowed : int
        Frames that may be lost.
    stuttered_per_h : float
        Frames an hour that may stand longer than twice the usual time.
    colour_error_at_most : float
        Largest error of a tile's colour, share of full scale. Capture cards differ among
        themselves; the default only finds a lane that is lost or stuck (our own choice).
    """

    frames: int = Field(ge=2, lt=1 << 24)
    port: str = ""
    lost_allowed: int = Field(default=0, ge=0)
    stuttered_per_h: float = Field(default=60.0, ge=0)
    colour_error_at_most: float = Field(default=0.35, gt=0, le=1)


class CodedClip:
    """Demand that the clip came whole; the capture's watcher reads it."""

    name: ClassVar[str] = "coded_clip"
    settings: ClassVar[type[Settings]] = CodedClipSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"capture"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, CodedClipSettings)
        self._settings = settings
        self._place = place

    def sources(self) -> Sequence[str]:
        return ("capture",)

    def quantities(self) -> Sequence[Quantity]:
        return [Quantity(f"clip.{name}", "1", "capture") for name in (*_COUNTS, *_ERRORS)]

    def requirements(self) -> Sequence[Requirement]:
        own = self._settings
        return [
            self._one(PLAYED_WHOLE, "whole", float(own.lost_allowed)),
            self._one(PLAYED_STEADILY, "steady", own.stuttered_per_h),
            self._one(PLAYED_IN_COLOUR, "colours", own.colour_error_at_most),
        ]

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        await trio.sleep_forever()  # the watcher reads the clip where the pictures arrive

    def _one(self, rule: Rule[PortTerms], short: str, limit: float) -> Requirement:
        place = self._place
        port = self._settings.port
        terms = PortTerms(port=port, path="played", over=place.model_sheet.port_text(port))
        plain = place.plain(self.name, short, needs=self.needs, port=port)
        own: Plain = {**plain, "limit": limit, "confidence": place.confidence}
        if rule is not PLAYED_WHOLE:
            own["shows_repair"] = frozenset()
        quantity = "clip.colour_error" if rule is PLAYED_IN_COLOUR else "clip.lost"
        return rule.demand(terms, quantity=quantity, **own)


THE_CHECK = CodedClip
