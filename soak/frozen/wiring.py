"""What every instrument's entry in a fixture file says, whatever drives it."""

from collections.abc import Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import Annotated, ClassVar, Literal, NamedTuple, TypeGuard, cast

from pydantic import Field

from soak.allowed import FilledIn
from soak.errors import BenchFault, Mistake
from soak.mistakes import fit
from soak.settings import Seconds, Settings
from soak.words import Amount, Number, msg

Role = Literal["switch", "capture", "stick", "probe", "link", "network", "load", "button", "servo"]
"""What an instrument is for in a fixture."""

DataPath = Literal["through", "played", "carried", "stood_in", "bench_only"]
"""How data crosses the unit's port; `bench_only` proves the stick, not the unit."""


class Claim(NamedTuple):
    """What an instrument takes for itself: a port of the bench, and the part of it.

    Two claims collide when they name the same port and the same part, or when either takes the
    whole port (an empty part).
    """

    port: str
    part: str = ""


class AtUnit(NamedTuple):
    """At which port of the unit an instrument is: the key that names it, its kind (empty: any)."""

    key: str
    kind: str


class Wired(Settings):
    """Base of every instrument's settings: which driver drives it.

    Attributes
    ----------
    role : Role
        The role that a class of settings is of; said once by the class that all its drivers' derive
        from.
    named : bool
        Whether a fixture may have several, each with a name: then its source is `probe.NAME`.
    at_unit : AtUnit or None
        Which port of the unit it is at; None: of no port that the model sheet knows.
    driver : str
        Which driver drives it: its kind of instrument and how that is reached.
    """

    role: ClassVar[Role]
    named: ClassVar[bool] = False
    at_unit: ClassVar[AtUnit | None] = None

    driver: str

    @property
    def by_hand(self) -> bool:
        """Whether a person works or reads it, so that it says what a person says."""
        return "hand" in self.driver

    def claims(self) -> Sequence[Claim]:
        """Return what no other instrument of the same run may use; a driver's settings say it."""
        return ()


class Rated(Settings):
    """The voltages that a unit may be fed with, V, as its maker states them.

    At most 60 V: above that direct current is no longer extra-low voltage by the common limit (IEC
    61140), and nothing that a program may set.

    Attributes
    ----------
    lowest_v : float
        Lowest voltage that the unit is rated for, V.
    nominal_v : float
        Voltage that it is usually fed with, V.
    highest_v : float
        Highest voltage that it is rated for, V.
    """

    lowest_v: float = Field(gt=0, le=60)
    nominal_v: float = Field(gt=0, le=60)
    highest_v: float = Field(gt=0, le=60)

    @fit
    def _in_order(self) -> Iterator[Mistake]:
        if not self.lowest_v <= self.nominal_v <= self.highest_v:
            yield Mistake(
                "",
                msg(
                    "lowest_v {lowest_v}, nominal_v {nominal_v} and highest_v {highest_v} are not "
                    "in this order; look at the unit's type plate",
                    lowest_v=Number(self.lowest_v, "g"),
                    nominal_v=Number(self.nominal_v, "g"),
                    highest_v=Number(self.highest_v, "g"),
                ),
            )

    def tried_v(self, accuracy_v: float) -> tuple[float, float]:
        """Return the lowest and highest voltage to set, V.

        The supply's accuracy is kept clear of the limits, so that the unit never gets more or less
        than it is rated for (guard band, JCGM 106:2012).
        """
        return self.lowest_v + accuracy_v, self.highest_v - accuracy_v


class SwitchWired(Wired):
    """A switch.

    Attributes
    ----------
    channel : str
        The driver's name for the output the unit hangs on.
    beat_within_s : float
        A soak program that the guard has not heard for so long is taken for hung, s: off.
    """

    role: ClassVar[Role] = "switch"

    channel: str = "1"
    beat_within_s: Seconds = Field(default=5.0, ge=1, le=60)


class SettableSwitch(SwitchWired):
    """A switch that may be a supply whose voltage soak sets.

    Attributes
    ----------
    sets_voltage : bool
        Whether soak sets the voltage: nominal, and the rated limits where a script tries them.
    accuracy_v : float
        Half-width of the error of its voltage, V, by its data sheet.
    rated : Rated or None
        The model sheet's rated voltages; filled in from there, never written in a fixture file.
    """

    sets_voltage: bool = False
    accuracy_v: float = Field(default=0.0, ge=0, le=5)
    rated: Annotated[Rated | None, FilledIn()] = None

    @fit
    def _accuracy_is_stated(self) -> Iterator[Mistake]:
        if self.sets_voltage and self.accuracy_v == 0:
            yield Mistake(
                "", msg("accuracy_v is missing; sets_voltage needs the supply's accuracy in V")
            )


def refuse_outside(name: str, rated: Rated, volt: float) -> None:
    """Refuse a voltage that the unit is not rated for.

    Raises
    ------
    BenchFault
        If it lies outside the rated range.
    """
    if not rated.lowest_v <= volt <= rated.highest_v:
        raise BenchFault(
            name,
            msg(
                "will not be set to {volt} V; the unit is rated for {lowest_v} V to {highest_v} V",
                volt=Number(volt, "g"),
                lowest_v=Number(rated.lowest_v, "g"),
                highest_v=Number(rated.highest_v, "g"),
            ),
        )


Plug = Literal[
    "", "usb-a", "usb-b", "usb-mini", "usb-micro", "usb-c", "hdmi", "displayport", "8p8c"
]


class Plugged(Wired):
    """What reaches the unit by a cable of the bench's that wears out.

    Attributes
    ----------
    cable : str
        The bench's name of the cable or stick plug, as marked on it; empty: its wear is not kept.
    plug : str
        The plug that goes into the unit.
    """

    cable: str = ""
    plug: Plug = ""


class CaptureWired(Plugged):
    """A capture.

    Attributes
    ----------
    port : str
        The unit's video port.
    taught : sequence of str
        Pictures beside the fixture file: what the card shows without a signal.
    protected : sequence of str
        Pictures beside the fixture file: what is shown in place of protected output.
    menu : sequence of str
        Pictures beside the fixture file: the unit's own menu with all its colours, so that a colour
        that is lost is told from the first picture on.
    """

    role: ClassVar[Role] = "capture"
    at_unit: ClassVar[AtUnit | None] = AtUnit("port", "video")

    port: str = ""
    taught: Sequence[str] = ()
    protected: Sequence[str] = ()
    menu: Sequence[str] = ()


class StickWired(Plugged):
    """A stick: `port` is the unit's USB port, `path` how data crosses it.

    Attributes
    ----------
    port : str
        The unit's USB port that the data crosses.
    path : str
        How the data crosses it: `through` the unit, `played` by it, `carried` by hand,
        `stood_in` for the stick; `bench_only` has no part of the unit and proves nothing of
        it.
    """

    role: ClassVar[Role] = "stick"
    at_unit: ClassVar[AtUnit | None] = AtUnit("port", "usb")

    port: str = ""
    path: DataPath = "bench_only"


class LinkWired(Plugged):
    """A link: `port` is the unit's USB port.

    Attributes
    ----------
    port : str
        The unit's USB port that is watched.
    """

    role: ClassVar[Role] = "link"
    at_unit: ClassVar[AtUnit | None] = AtUnit("port", "usb")

    port: str = ""


class NetworkWired(Plugged):
    """A network port of the bench's computer.

    Attributes
    ----------
    port : str
        The unit's network socket at the other end of the cable.
    serves : str
        Address of a file that the unit serves there, `http://ADDRESS/FILE`; empty: none.
    serves_sha256 : str
        SHA-256 of that file; empty: it must be the same each time.
    """

    role: ClassVar[Role] = "network"
    at_unit: ClassVar[AtUnit | None] = AtUnit("port", "network")

    port: str = ""
    serves: str = Field(default="", pattern=r"^(http://[^/\s]+(/\S*)?)?$")
    serves_sha256: str = Field(default="", pattern=r"^([0-9a-f]{64})?$")


class LoadWired(Wired):
    """A load at one of the unit's ports.

    Attributes
    ----------
    at_port : str
        The unit's USB port that it draws from.
    current_a : float
        What it draws from 5 V, A.
    """

    role: ClassVar[Role] = "load"
    at_unit: ClassVar[AtUnit | None] = AtUnit("at_port", "usb")

    at_port: str = ""
    current_a: float = Field(gt=0, le=10)


class ButtonWired(Wired):
    """What presses the unit's own power button; the model sheet says how long it is held."""

    role: ClassVar[Role] = "button"


class ServoWired(Wired):
    """What moves a plug in place of the operator's hand.

    Attributes
    ----------
    at_port : str
        The unit's port whose plug it moves.
    force_n : float or None
        Its force at the plug as measured with a spring balance, N; left out: not measured,
        and the report says so.
    """

    role: ClassVar[Role] = "servo"
    at_unit: ClassVar[AtUnit | None] = AtUnit("at_port", "")

    at_port: str = Field(min_length=1)
    force_n: float | None = Field(default=None, gt=0, le=50)


GUARD_SILENT_AT_MOST_S = 3600.0
"""So long may a probe that guards say nothing, s: nobody knows meanwhile how hot the unit is. Our
own choice; a person who reads a thermometer does so every quarter of an hour."""
SILENT_AT_MOST_S = 86_400.0
"""So long may any probe say nothing, s: a longer night than any script's, so a slip of the pen. Our
own choice."""


class ProbeWired(Wired):
    """A probe at one spot.

    Attributes
    ----------
    spot : str
        Name of a spot of the model sheet, or `ambient`.
    unit : str
        Measurement unit of its readings.
    resolution : float or None
        Smallest step of its readings, in `unit`.
    accuracy : float or None
        Half-width of its error, in `unit`.
    guards : bool
        Whether the guard cuts the power above the spot's trip, or when this probe falls silent.
    silent_after_s : float
        Without a reading for so long it is blind, s.
    at_port : str
        The unit's USB port whose 5 V or current it measures; empty for anything else.
    """

    role: ClassVar[Role] = "probe"
    named: ClassVar[bool] = True
    at_unit: ClassVar[AtUnit | None] = AtUnit("at_port", "usb")

    spot: str = ""
    unit: Literal["degC", "V", "A", "W"] = "degC"
    resolution: float | None = Field(default=None, gt=0)
    accuracy: float | None = Field(default=None, ge=0)
    guards: bool = False
    silent_after_s: Seconds = Field(default=10.0, gt=0)
    at_port: str = ""

    @fit
    def _falls_silent_in_time(self) -> Iterator[Mistake]:
        most_s = GUARD_SILENT_AT_MOST_S if self.guards else SILENT_AT_MOST_S
        if self.silent_after_s > most_s:
            guards = msg("a probe that guards")
            guarding = guards if self.guards else msg("a probe that does not guard")
            yield Mistake(
                "",
                msg(
                    "silent_after_s is {length}; for {probe} it is at most {most}; without a "
                    "reading for so long nobody sees the unit",
                    length=Amount(self.silent_after_s, "s"),
                    probe=guarding,
                    most=Amount(most_s, "s"),
                ),
            )


def _is_of_a_role(one: object) -> TypeGuard[type[Wired]]:
    return isinstance(one, type) and issubclass(one, Wired) and "role" in vars(one)


ROLE_SETTINGS: Mapping[Role, type[Wired]] = MappingProxyType(
    {kind.role: kind for kind in [*globals().values()] if _is_of_a_role(kind)}
)
"""What the settings of every driver of a role derive from: the classes above that name one.

In the order in which instruments are opened and listed: the switch first.
"""


def field_of(role: Role) -> str:
    """Return the name under which a fixture and `Instruments` hold a role: `switch`, `probes`."""
    return f"{role}s" if ROLE_SETTINGS[role].named else role


def role_of(source: str) -> Role:
    """Return the role of a source: `probe` of `probe.heatsink`."""
    return cast(Role, source.partition(".")[0])
