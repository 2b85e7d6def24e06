"""When a chance fault of a simulated unit is there."""

from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field, model_validator

from soak.settings import Seconds, Settings


def _rising(value: tuple[float, float]) -> tuple[float, float]:
    if value[0] > value[1]:
        raise ValueError(f"goes from {value[0]:g} down to {value[1]:g}; write the lower one first")
    return value


_Pair = BeforeValidator(lambda value: tuple(value) if isinstance(value, list) else value)
Between = Annotated[tuple[Seconds, Seconds], _Pair, AfterValidator(_rising)]
"""A range of durations or times, `["40 min", "1 h"]`; the value is drawn evenly from it."""


class When(Settings):
    """Chance faults in time, depending on the heat at one spot.

    Attributes
    ----------
    per_hour : float
        Faults in one hour at full readiness.
    spot : str
        Spot whose heat counts; empty: heat does not matter.
    above_degc, full_k : float
        None below `above_degc`; at `full_k` K above it as often as `per_hour` says.
    lasts_s : (float, float)
        Shortest and longest duration in s, evenly in the logarithm.
    bout_of : float
        Faults in one bout on the mean, geometrically spread; `per_hour` is then that of bouts.
    apart_s : float
        From the end of one fault of a bout to the next on the mean, exponentially spread, s.
    """

    per_hour: float = Field(default=0.0, ge=0, le=60)
    spot: str = ""
    above_degc: float = 0.0
    full_k: float = Field(default=4.0, gt=0)
    lasts_s: Between = (0.5, 8.0)
    bout_of: float = Field(default=1.0, ge=1, le=100)
    apart_s: Seconds = Field(default=30.0, gt=0)

    @model_validator(mode="after")
    def _lasts_some_time(self) -> "When":
        if self.lasts_s[0] <= 0:
            raise ValueError(f"lasts_s begins at {self.lasts_s[0]:g}; a fault lasts longer than 0")
        return self
