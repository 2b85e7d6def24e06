"""Scenes: what is really wrong with a simulated unit and its bench, read from TOML.

Every number of a scene is an invention of ours that is plausible for a small player; none comes
from a measured unit.
"""

from collections.abc import Iterator, Mapping, Sequence
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from soak.errors import FixtureError, Mistake
from soak.mistakes import fit
from soak.settings import Seconds, Settings, checked, nearest_name, read_toml
from soak.sim.episodes import Between
from soak.sim.scene_bench import BenchTroubles
from soak.sim.scene_ports import Contact, Data, Link, Network, PortSupply
from soak.words import joined, msg

Grade = Literal["ready", "not ready: failed", "not ready: incomplete"]

Share = Annotated[float, Field(ge=0, le=1)]

_SHIPPED = resources.files("soak.sim") / "scenes"
HOLDS_UP_S = 0.04
"""A unit's capacitors usually keep it going so long without power, s."""


class Room(Settings):
    """The air around the unit: a slow swing about a mean that differs a little from night to night.

    Attributes
    ----------
    mean_degc : float
        Mean ambient temperature, degC.
    differs_k : float
        Half-width of the difference between seeds, K.
    swing_k : float
        Amplitude of the swing, K.
    period_s : float
        Duration of one swing, s.
    """

    mean_degc: float = Field(default=21.5, gt=-20, lt=60)
    differs_k: float = Field(default=0.8, ge=0, lt=20)
    swing_k: float = Field(default=0.7, ge=0, lt=20)
    period_s: Seconds = Field(default=6 * 3600.0, gt=0)


class Start(Settings):
    """How the unit starts.

    Attributes
    ----------
    warm_s : float
        Median time to picture when fully warm, s; in between by the rise.
    cold_s : float
        Median time to picture at ambient, s.
    spread : float
        Standard deviation of the logarithm of the time to picture.
    fails_warm : float
        Share of starts that never show a picture when fully warm.
    fails_cold : float
        Share of starts that never show a picture at ambient.
    dies_at : int
        At the so manieth start, counted from 1, it is dead for good; 0: never.
    """

    warm_s: Seconds = Field(default=17.0, gt=0)
    cold_s: Seconds = Field(default=20.0, gt=0)
    spread: float = Field(default=0.04, ge=0, lt=1)
    fails_warm: Share = 0.0
    fails_cold: Share = 0.0
    dies_at: int = Field(default=0, ge=0)


class Spot(Settings):
    """How one spot heats: two first-order terms, the slow one for the case around it.

    Attributes
    ----------
    rise_k : float
        Rise over ambient in the end of the quick part, K.
    tau_s : float
        Time constant of the quick part, s.
    slow_rise_k : float
        Rise over ambient in the end of the slow part, the case around it, K.
    slow_tau_s : float
        Time constant of the slow part, s.
    """

    rise_k: float = Field(ge=0, lt=300)
    tau_s: Seconds = Field(gt=0)
    slow_rise_k: float = Field(default=0.0, ge=0, lt=300)
    slow_tau_s: Seconds = Field(default=2400.0, gt=0)


USUAL_SPOTS = {
    "heatsink": Spot(rise_k=30.0, tau_s=480.0, slow_rise_k=6.0),
    "outside": Spot(rise_k=14.0, tau_s=1200.0, slow_rise_k=5.0),
}
"""How a good unit heats."""


class Interruption(Settings):
    """Restarts or hangs by itself after so long an unbroken time since the last start.

    Attributes
    ----------
    after_s : (float, float)
        Unbroken time since the last start after which it comes, drawn from this range, s.
    kind : str
        `restart`: it starts anew; `hang`: it stands still until its power is cut.
    """

    after_s: Between
    kind: Literal["restart", "hang"] = "restart"


class Fan(Settings):
    """A fan that stops for good after so much time with power; heat then rises by `factor`.

    Attributes
    ----------
    dies_after_s : (float, float)
        Time with power after which it stops, drawn from this range, s.
    factor : float
        So many times the usual rise without it.
    """

    dies_after_s: Between
    factor: float = Field(gt=1, lt=10)


class Button(Settings):
    """The unit's own power button.

    Attributes
    ----------
    stays_off : bool
        Whether it stays off when power comes back, until pressed.
    dark_s : (float, float)
        From the press to no picture, drawn from this range, s.
    off_s : (float, float)
        From the press to off in order, drawn from this range, s.
    hangs : float
        Share of soft stops that never end.
    hard_off_s : float
        Held for so long it cuts the unit off hard.
    """

    stays_off: bool = False
    dark_s: Between = (0.5, 2.0)
    off_s: Between = (4.0, 8.0)
    hangs: Share = 0.0
    hard_off_s: Seconds = Field(default=4.0, gt=0)


class Player(Settings):
    """What the unit plays: its own moving picture, or a coded clip from a stick.

    Attributes
    ----------
    coded_frames : int
        Frames in the coded clip, one a second; 0: its own picture.
    skips : float
        Share of the clip's frames that are never shown.
    """

    coded_frames: int = Field(default=0, ge=0, le=600)
    skips: Share = 0.0


class Supply(Settings):
    """What the unit draws from its supply, and how it bears with it.

    Attributes
    ----------
    starting_a : float
        Current while it starts, A.
    used_a : float
        Current in use, A.
    stuck_a : float
        Current when hung or started in vain, A.
    standby_a : float
        Current when pressed off, A.
    starts_from_v : float
        Below this voltage it does not start, V.
    rides_through_s : float
        A break so short it does not notice, s.
    latches_s : (float, float) or None
        Breaks of such a length leave it dead until the power is taken for longer.
    """

    starting_a: float = Field(default=1.30, ge=0)
    used_a: float = Field(default=0.85, ge=0)
    stuck_a: float = Field(default=0.42, ge=0)
    standby_a: float = Field(default=0.03, ge=0)
    starts_from_v: float = Field(default=0.0, ge=0, le=60)
    rides_through_s: Seconds = Field(default=HOLDS_UP_S, ge=0, le=10)
    latches_s: Between | None = None


class Scene(Settings):
    """One simulated unit and its bench.

    Attributes
    ----------
    name : str
        The file's name without `.toml`.
    truth : str
        What is really wrong, for the demo's table.
    truth_grade : str
        What an overnight soak of everything must come to.
    also_right : sequence of str
        Other grades that would not be wrong.
    fault : str
        Key word of what is wrong; `none` for a good unit.
    room : Room
        The air around the unit.
    start : Start
        How the unit starts.
    spots : mapping of name to Spot
        How its spots heat, by their names in the model sheet.
    contacts : mapping of name to Contact
        Contacts that open, by the name of their port in the model sheet.
    interruption : Interruption or None
        A restart or hang by itself.
    fan : Fan or None
        A fan that stops.
    data : Data
        The storage that its service port shows.
    link : Link
        The link of its service port.
    network : Network
        Its network socket.
    port_supply : PortSupply
        The 5 V of its service port.
    supply : Supply
        What it draws from its supply.
    player : Player
        What it plays.
    button : Button
        Its own power button.
    bench : BenchTroubles
        What goes wrong on the bench.
    """

    name: str = Field(min_length=1)
    truth: str = Field(min_length=1)
    truth_grade: Grade
    also_right: Sequence[Grade] = ()
    fault: str = Field(min_length=1)
    room: Room = Room()
    start: Start = Start()
    spots: Mapping[str, Spot] = USUAL_SPOTS
    contacts: Mapping[str, Contact] = {}
    interruption: Interruption | None = None
    fan: Fan | None = None
    data: Data = Data()
    link: Link = Link()
    network: Network = Network()
    port_supply: PortSupply = PortSupply()
    supply: Supply = Supply()
    player: Player = Player()
    button: Button = Button()
    bench: BenchTroubles = BenchTroubles()

    @fit
    def _spots_exist(self) -> Iterator[Mistake]:
        heats = {
            f"contacts.{port}.opens": getattr(contact, "opens", None)
            for port, contact in self.contacts.items()
        }
        heats |= {"data": self.data, "data.damage": getattr(self.data, "damage", None)}
        heats |= {"network": self.network}
        heats |= {
            f"network.{fault}": getattr(self.network, fault, None) for fault in ("damage", "hangs")
        }
        for at, one in heats.items():
            key = "falls_spot" if at in ("data", "network") else "spot"
            spot = getattr(one, key, "")  # not there where what was written is no name
            if spot and spot not in self.spots:
                what = msg(
                    "names {spot}; the spots are {value}",
                    spot=repr(spot),
                    value=", ".join(self.spots) or "none",
                )
                yield Mistake(f"{at}.{key}", what, nearest_name(spot, list(self.spots)))


def scene_names() -> Sequence[str]:
    """Return the names of the scenes that ship with the program, sorted."""
    names = (entry.name for entry in _SHIPPED.iterdir() if entry.name.endswith(".toml"))
    return sorted(name.removesuffix(".toml") for name in names)


def read_scene(name: str) -> Scene:
    """Read a scene: a name of `scene_names`, or a path of a TOML file.

    Raises
    ------
    FixtureError
        If there is no such scene, or its file holds an unknown key or an impossible value.
    """
    if name in scene_names():
        with resources.as_file(_SHIPPED / f"{name}.toml") as path:
            return _checked(path, name, name)
    if not name.endswith(".toml"):
        nearest = nearest_name(name, scene_names())
        what = msg("there is no scene {name}; give a path to a TOML file", name=repr(name))
        if not nearest:
            what = msg(
                "there is no scene {name}; the scenes are {known}, or give a path to a TOML file",
                name=repr(name),
                known=joined(", ", scene_names()),
            )
        raise FixtureError("simulated", "", what, nearest)
    return _checked(Path(name), name, Path(name).stem)


def _checked(path: Path, file: str, name: str) -> Scene:
    content = {"name": name, **read_toml(path, FixtureError, msg("scene"))}
    return checked(Scene, content, file, FixtureError)
