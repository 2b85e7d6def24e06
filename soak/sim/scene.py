"""Scenes: what is really wrong with a simulated unit and its bench, read from TOML.

Every number of a scene is an invention of ours that is plausible for a small player; none comes
from a measured unit.
"""

from collections.abc import Mapping, Sequence
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from soak.errors import FixtureError
from soak.settings import Seconds, Settings, checked, nearest_name, read_toml
from soak.sim.episodes import Between, When

Grade = Literal["ready", "not ready: failed", "not ready: incomplete"]
Dark = Literal["no signal", "black", "frozen", "protected output"]
"""What the capture gets while a video contact is open."""


Share = Annotated[float, Field(ge=0, le=1)]
_SHIPPED = resources.files("soak.sim") / "scenes"

HOLDS_UP_S = 0.04
"""A unit's capacitors usually keep it going so long without power, s."""


class Room(Settings):
    """The air around the unit: a slow swing about a mean that differs a little from night to night.

    Attributes
    ----------
    mean_degc, differs_k, swing_k : float
        Mean in degC, half-width of the difference between seeds in K, amplitude of the swing in K.
    """

    mean_degc: float = Field(default=21.5, gt=-20, lt=60)
    differs_k: float = Field(default=0.8, ge=0, lt=20)
    swing_k: float = Field(default=0.7, ge=0, lt=20)
    period_s: Seconds = Field(default=6 * 3600.0, gt=0)


class Start(Settings):
    """How the unit starts.

    Attributes
    ----------
    warm_s, cold_s : float
        Median time to picture in s when fully warm and at ambient; in between by the rise.
    spread : float
        Standard deviation of the logarithm of the time to picture.
    fails_warm, fails_cold : float
        Share of starts that never show a picture, fully warm and at ambient.
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
    """How one spot heats: two first-order terms, the slow one for the case around it."""

    rise_k: float = Field(ge=0, lt=300)
    tau_s: Seconds = Field(gt=0)
    slow_rise_k: float = Field(default=0.0, ge=0, lt=300)
    slow_tau_s: Seconds = Field(default=2400.0, gt=0)


USUAL_SPOTS = {
    "heatsink": Spot(rise_k=30.0, tau_s=480.0, slow_rise_k=6.0),
    "outside": Spot(rise_k=14.0, tau_s=1200.0, slow_rise_k=5.0),
}
"""How a good unit heats."""


class Contact(Settings):
    """The contact of one port: opens by itself (`opens`), and when the plug is moved.

    Attributes
    ----------
    moved_cold, moved_hot : float
        Share of hand movements that open it, at ambient and when the heat is full.
    moved_to : sequence of str
        Movements that can open it, such as `left`; empty: any.
    looks : str
        For a video port: what the capture gets while it is open.
    """

    opens: When = When()
    moved_cold: Share = 0.0
    moved_hot: Share = 0.0
    moved_to: Sequence[str] = ()
    looks: Dark = "no signal"


class Interruption(Settings):
    """Restarts or hangs by itself after so long an unbroken time since the last start."""

    after_s: Between
    kind: Literal["restart", "hang"] = "restart"


class Fan(Settings):
    """A fan that stops for good after so much time with power; heat then rises by `factor`."""

    dies_after_s: Between
    factor: float = Field(gt=1, lt=10)


class Data(Settings):
    """The storage that the service port shows as a drive.

    Attributes
    ----------
    read_bytes_per_s, write_bytes_per_s : float
        Usual speeds in B/s.
    damage : When
        Episodes in which reads are damaged; `kind` says how.
    kind : str
        `flips`: single bits; `stale`: data of another place; `zeros`: a part is empty;
        `errors`: the read fails with EIO.
    falls_above_degc, falls_spot
        Above this heat the link falls back to `fallen_bytes_per_s` until the unit is switched off.
    """

    read_bytes_per_s: float = Field(default=24e6, gt=0)
    write_bytes_per_s: float = Field(default=9e6, gt=0)
    damage: When = When()
    kind: Literal["flips", "stale", "zeros", "errors"] = "flips"
    falls_spot: str = ""
    falls_above_degc: float = 0.0
    fallen_bytes_per_s: float = Field(default=1.0e6, gt=0)


class Link(Settings):
    """The link of the service port.

    Attributes
    ----------
    speed_mbps, fallen_mbps : float
        Signalling rate in Mb/s, and where it has fallen back (`data.falls_spot` says when).
    plug_fails, plug_falls : float
        Share of plug-ins after which it does not come, and after which it comes fallen back.
    """

    speed_mbps: float = Field(default=480.0, gt=0)
    fallen_mbps: float = Field(default=12.0, gt=0)
    plug_fails: Share = 0.0
    plug_falls: Share = 0.0


class Network(Settings):
    """The network socket; what its contact does stands under `contacts`, as of any port.

    Attributes
    ----------
    port : str
        Its name in the model sheet.
    speed_mbps, fallen_mbps : float
        Speed that both ends agree on, Mb/s, and where it has fallen back.
    falls_above_degc, falls_spot
        Above this heat it falls back until the unit is switched off.
    serves_bytes : int
        Size of the file that the unit serves; 0: none.
    damage : When
        Episodes in which what is fetched comes damaged.
    hangs : When
        Episodes in which nothing comes any more though the link stays.
    """

    port: str = "network"
    speed_mbps: float = Field(default=1000.0, gt=0)
    fallen_mbps: float = Field(default=100.0, gt=0)
    falls_spot: str = ""
    falls_above_degc: float = 0.0
    serves_bytes: int = Field(default=25_000_000, ge=0)
    damage: When = When()
    hangs: When = When()


class PortSupply(Settings):
    """The 5 V of the service port: V without load, and the resistance in ohm they come through."""

    open_v: float = Field(default=5.06, gt=0, lt=30)
    ohm: float = Field(default=0.2, ge=0, lt=100)


class Button(Settings):
    """The unit's own power button.

    Attributes
    ----------
    stays_off : bool
        Whether it stays off when power comes back, until pressed.
    dark_s, off_s : (float, float)
        From the press to no picture, and to off in order.
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
    starting_a, used_a, stuck_a, standby_a : float
        Current in A: starting, in use, hung or started in vain, and pressed off.
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


class Outage(Settings):
    """A bench fault: it begins at a time of the soak drawn from `at_s` and lasts `for_s`."""

    at_s: Between
    for_s: Seconds = Field(gt=0)


class ProbeOutage(Outage):
    """A probe that falls silent; `probe` is its name in the fixture, without `probe.`."""

    probe: str = Field(min_length=1)


class ProbeAt(Settings):
    """A probe and a time, drawn from `at_s`, from which on something is wrong with it."""

    probe: str = Field(min_length=1)
    at_s: Between


class ProbeGarbles(ProbeAt):
    """A probe whose words come garbled: it reads each of `reads` once, in its measurement unit."""

    reads: Sequence[float] = Field(min_length=1)


class Relay(Settings):
    """A relay that fails: from a time drawn from `at_s` and from the on numbered `from_on` on.

    Attributes
    ----------
    fault : str
        `welded`: answers, but the power stays on; `open`: answers, but the power stays off;
        `mute`: does nothing and does not answer.
    times : int
        At so many ons; 0: at all that follow.
    """

    fault: Literal["welded", "open", "mute"]
    at_s: Between = (0.0, 0.0)
    from_on: int = Field(default=0, ge=0)
    times: int = Field(default=0, ge=0)


class BenchTroubles(Settings):
    """What goes wrong on the bench, never the unit's fault."""

    presser_vanishes: Outage | None = None
    servo_vanishes: Outage | None = None
    adapter_vanishes: Outage | None = None
    capture_wedges: Outage | None = None
    probe_silent: ProbeOutage | None = None
    probe_falls_off: ProbeAt | None = None
    probe_garbles: ProbeGarbles | None = None
    hub_vanishes: Outage | None = None
    host_sleeps: Outage | None = None
    relay: Relay | None = None


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

    @model_validator(mode="after")
    def _spots_exist(self) -> "Scene":
        named = {f"contacts.{port}.opens.spot": c.opens.spot for port, c in self.contacts.items()}
        named["data.damage.spot"] = self.data.damage.spot
        named["data.falls_spot"] = self.data.falls_spot
        for key, when in (("damage", self.network.damage), ("hangs", self.network.hangs)):
            named[f"network.{key}.spot"] = when.spot
        named["network.falls_spot"] = self.network.falls_spot
        for key, spot in named.items():
            if spot and spot not in self.spots:
                nearest = nearest_name(spot, list(self.spots))
                hint = f"; did you mean {nearest}?" if nearest else "; add it under spots"
                raise ValueError(f"{key} names {spot!r}{hint}")
        return self


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
        listed = "" if nearest else f"the scenes are {', '.join(scene_names())}, or "
        what = f"there is no scene {name!r}; {listed}give a path to a TOML file"
        raise FixtureError("simulated", "", what, nearest)
    return _checked(Path(name), name, Path(name).stem)


def _checked(path: Path, file: str, name: str) -> Scene:
    told = {"name": name, **read_toml(path, FixtureError, "scene")}
    return checked(Scene, told, file, FixtureError)
