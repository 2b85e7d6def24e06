"""What the guard may hear: wishes, what probes and switch show, who dies or sleeps."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Wish:
    """The runner wishes power on or off."""

    t_s: float
    on: bool
    why: str = ""


@dataclass(frozen=True, slots=True)
class WishVoltage:
    """The runner wishes the supply set to `volt` for the next start."""

    t_s: float
    volt: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class WishBreak:
    """The runner wishes the power broken for `for_s`."""

    t_s: float
    for_s: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class Value:
    """A guarding probe read a value."""

    t_s: float
    source: str
    value: float


@dataclass(frozen=True, slots=True)
class Fed:
    """The supply says that it gives `volt`; None: it does not say."""

    t_s: float
    volt: float | None


@dataclass(frozen=True, slots=True)
class Silent:
    """A guarding probe fell silent, or the switch's adapter is gone."""

    t_s: float
    source: str


@dataclass(frozen=True, slots=True)
class Unanswered:
    """The switch did not answer an off; it is told again until it does."""

    t_s: float


@dataclass(frozen=True, slots=True)
class Answered:
    """The switch has answered an off that it had left unanswered."""

    t_s: float


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passes."""

    t_s: float


@dataclass(frozen=True, slots=True)
class End:
    """The soak ends, for whatever reason."""

    t_s: float
    why: str


@dataclass(frozen=True, slots=True)
class Unheard:
    """The runner is there and has said nothing for `for_s`, in which this guard could hear."""

    t_s: float
    for_s: float


@dataclass(frozen=True, slots=True)
class Gone:
    """The runner is dead: its end of the line is closed, and it did not say that it ends."""

    t_s: float


@dataclass(frozen=True, slots=True)
class Woke:
    """The host slept for `slept_s`, and nobody watched."""

    t_s: float
    slept_s: float


GuardEvent = (
    Wish
    | WishVoltage
    | WishBreak
    | Value
    | Fed
    | Silent
    | Unanswered
    | Answered
    | Tick
    | End
    | Unheard
    | Gone
    | Woke
)
