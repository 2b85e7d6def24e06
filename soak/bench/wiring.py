"""What every instrument's entry in a fixture file says, whatever drives it."""

from collections.abc import Sequence
from typing import Literal, NamedTuple

from pydantic import Field

from soak.settings import Seconds, Settings

DataPath = Literal["through", "played", "carried", "stood_in", "bench_only"]
"""How data crosses the unit's port; `bench_only` proves the stick, not the unit."""


class Claim(NamedTuple):
    """What an instrument takes for itself: a port of the bench, and the part of it.

    Two claims collide when they name the same port and the same part, or when either takes the
    whole port (an empty part).
    """

    port: str
    part: str = ""


class Wired(Settings):
    """Base of every instrument's settings: which driver drives it."""

    driver: str

    def claims(self) -> Sequence[Claim]:
        """Return what no other instrument of the same run may use; a driver's settings say it."""
        return ()


class SwitchWired(Wired):
    """A switch: `channel` is the driver's name for the output the unit hangs on."""

    channel: str = "1"


class CaptureWired(Wired):
    """A capture: `port` is the unit's video port; `taught` are no-signal pictures of the card."""

    port: str = ""
    taught: Sequence[str] = ()


class StickWired(Wired):
    """A stick: `port` is the unit's USB port, `path` how data crosses it."""

    port: str = ""
    path: DataPath = "bench_only"


class ProbeWired(Wired):
    """A probe at one spot.

    Attributes
    ----------
    spot : str
        Name of a spot of the model sheet, or `ambient`.
    unit : str
        Measurement unit of its readings.
    accuracy : float or None
        Half-width of its error, in `unit`.
    guards : bool
        Whether the guard cuts the power above the spot's trip, or when this probe falls silent.
    silent_after_s : float
        Without a reading for so long it is blind, s.
    """

    spot: str = ""
    unit: Literal["degC", "V", "A", "W"] = "degC"
    resolution: float | None = Field(default=None, gt=0)
    accuracy: float | None = Field(default=None, ge=0)
    guards: bool = False
    silent_after_s: Seconds = Field(default=10.0, gt=0)


class LinkWired(Wired):
    """A link: `port` is the unit's USB port."""

    port: str = ""
