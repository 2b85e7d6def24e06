"""The model sheet: what a model of unit can do, where to measure it, what it holds."""

from collections.abc import Iterator, Mapping
from typing import Literal

from pydantic import Field

from soak.errors import Mistake
from soak.frozen.wiring import Rated
from soak.mistakes import fit
from soak.settings import Seconds, Settings, nearest_name
from soak.words import Number, msg


class Function(Settings):
    """One thing the model can do.

    Attributes
    ----------
    text : str
        In plain words, as the report prints it.
    key : bool
        A key function (the unit is of no use without it) or a secondary one.
    check : str
        The check that exercises it, `by_hand` where only a person can judge it; empty if none does,
        so the report lists it as not tested.
    port : str
        The port it is on, by its name in `ports`.
    """

    text: str = Field(min_length=1)
    key: bool = False
    check: str = ""
    port: str = ""


def as_named(port: str) -> str:
    """Return what a port is called, to stand behind "the": some sheets say that themselves."""
    return port.removeprefix("the ").removeprefix("The ")


class Port(Settings):
    """One connector of the unit.

    Attributes
    ----------
    text : str
        In plain words, as the report prints it.
    kind : str
        What the connector is for; an instrument at it must be of that kind.
    speed_mbps : float or None
        Of a network socket: the speed that it agrees on with a good partner, Mb/s.
    """

    text: str = Field(min_length=1)
    kind: Literal["video", "usb", "power", "network", "sound", "other"]
    speed_mbps: float | None = Field(default=None, gt=0)


class Spot(Settings):
    """One place whose temperature counts.

    Attributes
    ----------
    text : str
        Where it is, in plain words, as the report prints it.
    limit_degc : float or None
        Highest allowed temperature in degC.
    rise_limit_k : float or None
        Highest allowed rise over ambient in K.
    touched : bool or None
        Whether a hand can touch it: then its limit is absolute and never moved to another ambient,
        nor is it where the sheet does not say.
    trip_degc : float or None
        Temperature in degC at which the guard cuts the power: above any room and any unit at
        rest, below what nothing survives. Not a safety device.
    """

    text: str = Field(min_length=1)
    limit_degc: float | None = Field(default=None, gt=-50, lt=300)
    rise_limit_k: float | None = Field(default=None, gt=0, lt=200)
    touched: bool | None = None
    trip_degc: float | None = Field(default=None, ge=35, le=200)

    @fit
    def _trip_lies_above_limit(self) -> Iterator[Mistake]:
        trip = self.trip_degc
        limit = self.limit_degc
        if trip is not None and limit is not None and trip <= limit:
            yield Mistake(
                "",
                msg(
                    "trip_degc {trip} lies below limit_degc {limit}; raise it",
                    trip=Number(trip, "g"),
                    limit=Number(limit, "g"),
                ),
            )


class Supplied(Rated):
    """What the unit is fed with where that is low direct voltage, and what it may draw.

    Attributes
    ----------
    rides_through_s : float
        A break of the supply so short has no effect, as the maker states; 0: not stated.
    running_at_most : float or None
        Most that it draws at work, in `draws_in`.
    idle_at_most : float or None
        Most that it draws doing nothing, in `draws_in`.
    standby_at_most : float or None
        Most that it draws in its own standby, in `draws_in`.
    draws_in : str
        Measurement unit of these.
    """

    rides_through_s: Seconds = Field(default=0.0, ge=0, le=60)
    running_at_most: float | None = Field(default=None, gt=0)
    idle_at_most: float | None = Field(default=None, gt=0)
    standby_at_most: float | None = Field(default=None, gt=0)
    draws_in: Literal["A", "W"] = "A"

    def at_most(self, working: str) -> float | None:
        """Return the most that it draws in a working state, in `draws_in`; None: not stated."""
        stated = {
            "running": self.running_at_most,
            "idle": self.idle_at_most,
            "standby": self.standby_at_most,
        }
        return stated[working]


class PowerButton(Settings):
    """The unit's own power button, by which it goes off in order before its power is cut.

    Attributes
    ----------
    text : str
        Which it is, as the report prints it.
    stops : bool
        Whether the button switches a running unit off in order; never taken for granted.
    stop_held_s : float
        Held so long for that, s: a press is shorter than 1 s, many models want some seconds, and
        longer than the model wants may cut it off hard.
    stop_limit_s : float
        Within so long after the press it is off in order, s.
    after_dark_s : float
        So long after its picture went it may still write, s; waited for where no probe of the
        supply current shows that it has ended.
    stays_off : bool
        Whether it stays off when power comes back, and wants a press to start.
    start_held_s : float
        Held so long to start it, s.
    start_after_s : float
        It takes a press so long after power came back, s.
    """

    text: str = Field(default="its power button", min_length=1)
    stops: bool
    stop_held_s: Seconds = Field(default=0.5, ge=0.05, le=30)
    stop_limit_s: Seconds = Field(default=60.0, gt=0, le=1800)
    after_dark_s: Seconds = Field(default=10.0, ge=0, le=600)
    stays_off: bool = False
    start_held_s: Seconds = Field(default=0.5, ge=0.05, le=30)
    start_after_s: Seconds = Field(default=2.0, ge=0, le=120)

    @fit
    def _does_something(self) -> Iterator[Mistake]:
        if not self.stops and not self.stays_off:
            yield Mistake(
                "", msg("neither stops the unit nor starts it: remove button from this sheet")
            )


class ModelSheet(Settings):
    """One model of unit; `fixtures/models/<name>.toml`.

    Attributes
    ----------
    model : str
        Maker and name of the model, as reports print it.
    kind : str
        What kind of thing it is, in plain words; printed beside the model.
    year_made : int or None
        Year it was made, where it is one for all units; printed on the report.
    picture_when_on : str
        `moving`: a picture that stands still is a fault; `still`; `may blank`: a black screen is
        the screen saver.
    longest_still_s : float or None
        Longest time that what a good unit shows stands still, s, where `moving` is promised; only
        what stands longer is frozen. Left out: nothing ever stands for half a second.
    longest_black_s : float or None
        Longest black in what a good unit shows, s; no black so short is a loss. Left out: none but
        that of a fade.
    start_s : float
        Usual time from power to picture, s.
    start_limit_s : float or None
        Longest time a good unit takes, s; left out: made from `start_s`.
    mains : bool or None
        Whether the unit itself is fed with mains voltage; left out: not said, which is
        neither.
    disk : bool or None
        Whether it holds a disk; left out: not said, which is neither.
    lithium_cell : bool or None
        Whether it holds a lithium cell; left out: not said, which is neither.
    holds_data : bool or None
        Whether it holds data of its owner; left out: not said, which is neither.
    rated_ambient_degc : float or None
        Highest ambient temperature that its maker allows, degC.
    button : PowerButton or None
        Its own power button, if soft stops or starts go by it.
    functions : mapping of name to Function
        What the model can do; each is tested, or listed as not tested.
    ports : mapping of name to Port
        Its connectors, by the names that fixtures and functions use.
    spots : mapping of name to Spot
        Where its temperature counts, by the names that probes use.
    supply : Supplied or None
        Rated low direct voltage; left out: not stated, and no other voltage is tried.
    """

    model: str = Field(min_length=1)
    kind: str = ""
    year_made: int | None = Field(default=None, ge=1950, le=2100)
    picture_when_on: Literal["moving", "still", "may blank"]
    longest_still_s: Seconds | None = Field(default=None, gt=0, le=3600)
    longest_black_s: Seconds | None = Field(default=None, gt=0, le=8)
    start_s: Seconds = Field(gt=0, le=3600)
    start_limit_s: Seconds | None = Field(default=None, gt=0, le=3600)
    mains: bool | None = None
    disk: bool | None = None
    lithium_cell: bool | None = None
    holds_data: bool | None = None
    rated_ambient_degc: float | None = Field(default=None, ge=0, le=85)
    button: PowerButton | None = None
    functions: Mapping[str, Function]
    ports: Mapping[str, Port] = {}
    spots: Mapping[str, Spot] = {}
    supply: Supplied | None = None

    def port_text(self, name: str) -> str:
        """Return a port in plain words; its name where the sheet does not know it."""
        return as_named(self.ports[name].text) if name in self.ports else name

    def function_text(self, name: str) -> str:
        """Return a function in plain words; its name where the sheet does not know it."""
        return self.functions[name].text if name in self.functions else name

    def functions_at(self, port: str) -> frozenset[str]:
        """Return the functions that are on a port."""
        return frozenset(name for name, one in self.functions.items() if one.port == port)

    @fit
    def _mains_is_left_alone(self) -> Iterator[Mistake]:
        if self.mains and self.supply is not None:
            yield Mistake(
                "",
                msg(
                    "mains is true and supply is low voltage; soak sets no mains voltage, remove "
                    "one"
                ),
            )

    @fit
    def _stands_still_by_promise(self) -> Iterator[Mistake]:
        if self.longest_still_s is not None and self.picture_when_on != "moving":
            what = msg(
                "{picture} may stand still for ever; remove it, or promise moving",
                picture=self.picture_when_on,
            )
            yield Mistake("longest_still_s", what)

    @fit
    def _ports_exist(self) -> Iterator[Mistake]:
        for name, function in self.functions.items():
            port = getattr(function, "port", "")  # not there where what was written is no name
            if port and port not in self.ports:
                what = msg(
                    "names {port}; the ports are {value}",
                    port=repr(port),
                    value=", ".join(self.ports) or "none",
                )
                yield Mistake(f"functions.{name}.port", what, nearest_name(port, list(self.ports)))
