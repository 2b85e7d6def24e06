"""The physical model of one unit: power, starts, picture, heat, contacts, storage.

Its history is a function of the seed and of when power is switched and plugs are moved; asking
changes nothing. Each spell with power is planned ahead when it begins and cut short when power
goes, so that observers can be told exactly when the next change comes.
"""

import copy
import math
from collections.abc import Mapping, Sequence
from typing import Literal, get_args

import numpy as np
import trio
from numpy.typing import NDArray

from soak.derive.spans import Span
from soak.sim.chance import between, stream
from soak.sim.episodes import When, episodes, readiness
from soak.sim.heat import Heating, Term
from soak.sim.modes import Mode, modes
from soak.sim.scene import Scene
from soak.sim.scene_ports import Data, Network
from soak.sim.track import Spans, Track, laid_over
from soak.sim.wakes import Wakes

Spell = Literal["data damaged", "data fallen", "network damaged", "network hung", "network fallen"]
"""What befalls a unit for a while."""
_SPELLS: Sequence[Spell] = get_args(Spell)

HORIZON_S = 2 * 86400.0
"""A spell is planned so far ahead; a longer one has no chance faults after it."""

SUPPLY_V = 12.0
"""Supply voltage of a simulated unit that is switched on, unless another is set, V."""

GRID_S = 10.0
"""Step in s at which the heat is searched for the moment a link falls back."""

AGREES_S = 2.5
"""So long a network link is gone while both ends agree on a lower speed, s. Our own choice."""

_LOOKS: Mapping[Mode, str] = {
    "off": "no signal",
    "stopping": "no signal",
    "dark start": "no signal",
    "black start": "black",
    "running": "picture",
    "hung": "frozen",
    "dead": "no signal",
}


class SimulatedUnit:
    """One simulated unit.

    Parameters
    ----------
    scene : Scene
        What is wrong with it.
    seed : int
        The same seed and the same power commands give the same history.

    Attributes
    ----------
    modes, looks : Track
        What it does; how its picture is: `picture`, `black`, `no signal`, `frozen`.
    changed : trio.Event
        Set, and replaced, whenever plans change: power switched, plug moved.
    """

    def __init__(self, scene: Scene, seed: int) -> None:
        self.scene = scene
        self.seed = seed
        self.changed = trio.Event()
        self.wakes = Wakes()
        self.powered = False
        self.awake = False
        self._presses = 0
        self.drawn_a = 0.0
        self.supply_v = SUPPLY_V
        self._off_since_s = -np.inf
        self._pulled: set[str] = set()
        self._plug_ins: dict[str, int] = {}
        self._bad_plugs: dict[str, str] = {}
        self.modes: Track[Mode] = Track("off")
        self.looks: Track[str] = Track("no signal")
        self._spell = 0
        self._movements: dict[str, int] = {}
        ports = {"video", scene.network.port, *scene.contacts}
        self._openings = {port: Spans() for port in ports}
        self._spells = {name: Spans() for name in _SPELLS}
        self._before_off = self._plans()
        self._heat = {
            name: Heating([Term(s.rise_k, s.tau_s), Term(s.slow_rise_k, s.slow_tau_s)])
            for name, s in scene.spots.items()
        }
        self._on_since_s = 0.0
        self._on_before_s = 0.0
        room = stream(seed, "room")
        self._room_differs_k = room.uniform(-scene.room.differs_k, scene.room.differs_k)
        self._room_angle = room.uniform(0.0, 2.0 * np.pi)
        fan = scene.fan
        chance = stream(seed, "fan")
        self._fan_dies_s = np.inf if fan is None else between(chance, fan.dies_after_s)

    # --- what is done to it -----------------------------------------------------------------

    def power(self, t_s: float, on: bool) -> None:
        """Give it power, or take it, at `t_s`; times never go back."""
        if on == self.powered:
            return
        self.powered = on
        if not on:
            self._off_since_s = t_s
            self._before_off = copy.deepcopy(self._plans())
            self._end(t_s)
        elif t_s - self._off_since_s < self.scene.supply.rides_through_s:
            self._go_on(t_s)
        elif not self.scene.button.stays_off:
            self._begin(t_s)
        self._lay_looks(t_s)

    def press(self, t_s: float, held_s: float) -> None:
        """Press its power button: a running unit goes off in order, one that is off starts."""
        if not self.powered:
            return
        button = self.scene.button
        if not self.awake:
            self._begin(t_s)
        elif held_s >= button.hard_off_s:
            self._end(t_s + button.hard_off_s)
        else:
            self._stop_in_order(t_s)
        self._lay_looks(t_s)

    def move_plug(self, port: str, t_s: float, lasts_s: float = 10.0, movement: str = "") -> None:
        """Move the plug at a port by hand, once, for `lasts_s` s; `movement` says which way."""
        number = self._movements[port] = self._movements.get(port, 0) + 1
        contact = self.scene.contacts.get(port)
        if contact is None or (contact.moved_to and movement not in ("", *contact.moved_to)):
            return
        chance = stream(self.seed, f"movement.{port}", number)
        hot = float(readiness(contact.opens, self.temperatures_degc, np.array([t_s]))[0])
        share = contact.moved_cold + (contact.moved_hot - contact.moved_cold) * hot
        luck = chance.uniform()
        bounces = int(chance.integers(1, 4))
        begins_s = chance.uniform(t_s, t_s + lasts_s, bounces)
        ends_s = begins_s + chance.uniform(0.05, 0.8, bounces)
        if luck < share:
            self._openings[port].add(zip(begins_s.tolist(), ends_s.tolist(), strict=True))
            self._lay_looks(t_s)

    def pull(self, port: str) -> None:
        """Pull the plug out of a port."""
        self._pulled.add(port)
        self._tell()

    def plug(self, port: str) -> None:
        """Put a plug into a port; whether it makes contact is the scene's chance."""
        number = self._plug_ins[port] = self._plug_ins.get(port, 0) + 1
        luck = stream(self.seed, f"plug.{port}", number).uniform()
        link = self.scene.link
        self._bad_plugs.pop(port, None)
        if luck < link.plug_fails:
            self._bad_plugs[port] = "fails"
        elif luck < link.plug_fails + link.plug_falls:
            self._bad_plugs[port] = "falls"
        self._pulled.discard(port)
        self._tell()

    # --- what can be seen of it -------------------------------------------------------------

    def running(self, t_s: float) -> bool:
        """Say whether it is started and in use."""
        return self.modes.at(t_s) == "running"

    def connected(self, port: str, t_s: float) -> bool:
        """Say whether it is in use and the contact at a port is closed."""
        openings = self._openings.get(port)
        if port in self._pulled or self._bad_plugs.get(port) == "fails":
            return False
        return self.running(t_s) and not (openings is not None and openings.holds(t_s))

    def room_degc(self, t_s: float) -> float:
        """Return the ambient temperature in degC."""
        room = self.scene.room
        swing_k = room.swing_k * math.sin(2.0 * math.pi * t_s / room.period_s + self._room_angle)
        return room.mean_degc + self._room_differs_k + swing_k

    def temperature_degc(self, spot: str, t_s: float) -> float:
        """Return the temperature at a spot in degC; a spot the scene does not name is ambient."""
        return self.room_degc(t_s) + (self._heat[spot].rise_k(t_s) if spot in self._heat else 0.0)

    def temperatures_degc(self, spot: str, t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the temperature at a spot in degC at each of the times."""
        return self._rooms_degc(t_s) + self._heat[spot].rises_k(t_s)

    def current_a(self, t_s: float) -> float:
        """Return the supply current in A."""
        supply = self.scene.supply
        mode = self.modes.at(t_s)
        if mode == "off":
            return supply.standby_a if self.powered else 0.0
        if mode == "stopping":
            return supply.used_a
        if mode in ("hung", "dead"):
            return supply.stuck_a
        return supply.used_a if mode == "running" else supply.starting_a

    def befalls(self, what: Spell, from_s: float, until_s: float) -> bool:
        """Say whether one of the scene's spells touches `[from_s, until_s]`."""
        return self._spells[what].touch(from_s, until_s)

    def damaged(self, from_s: float, until_s: float) -> bool:
        """Say whether data read in `[from_s, until_s]` comes damaged."""
        return self.befalls("data damaged", from_s, until_s)

    def fallen(self, t_s: float) -> bool:
        """Say whether the service port's link has fallen back to its low speed."""
        return self._spells["data fallen"].holds(t_s)

    def link_mbps(self, port: str, t_s: float) -> float:
        """Return the speed of a port's link in Mb/s."""
        network = port == self.scene.network.port
        link = self.scene.network if network else self.scene.link
        fallen = self._spells["network fallen" if network else "data fallen"].holds(t_s)
        low = fallen or self._bad_plugs.get(port) == "falls"
        return link.fallen_mbps if low else link.speed_mbps

    def next_change_s(self, port: str, t_s: float) -> float:
        """Return when a port's link next changes as planned; infinite if no change is planned."""
        openings = self._openings.get(port, Spans())
        network = port == self.scene.network.port
        fallen = self._spells["network fallen" if network else "data fallen"]
        edges = [*openings.edges_s(t_s), *fallen.edges_s(t_s)]
        return min([self.modes.next_change_s(t_s), *edges])

    def port_v(self) -> float:
        """Return the voltage at the service port, V."""
        supply = self.scene.port_supply
        gives = self.powered and not self._died
        return max(0.0, supply.open_v - supply.ohm * self.drawn_a) if gives else 0.0

    # --- spells with power ------------------------------------------------------------------

    def _begin(self, t_s: float) -> None:
        self._spell += 1
        self._on_since_s = t_s
        self.awake = True
        scene = self.scene
        until_s = t_s + HORIZON_S
        coldness = self._coldness(t_s)
        self._heat_up(t_s)
        chance = stream(self.seed, "starts", self._spell)
        plan = modes(scene.start, scene.interruption, chance, t_s, until_s, coldness)
        self.modes.plan(t_s, [(t_s, "dead")] if self._stays_dead(t_s) else plan)
        for port, contact in scene.contacts.items():
            chance = stream(self.seed, f"contact.{port}", self._spell)
            heat_at = self.temperatures_degc
            self._openings[port].add(episodes(contact.opens, chance, t_s, until_s, heat_at))
        drawn: Sequence[tuple[Spell, str, When]] = (
            ("data damaged", "damage", scene.data.damage),
            ("network damaged", "network.damage", scene.network.damage),
            ("network hung", "network.hangs", scene.network.hangs),
        )
        for what, name, when in drawn:
            chance = stream(self.seed, name, self._spell)
            begun = episodes(when, chance, t_s, until_s, self.temperatures_degc)
            self._spells[what].add(begun)
        self._spells["data fallen"].add(self._falls(scene.data, t_s, until_s))
        lower = self._falls(scene.network, t_s, until_s)
        self._spells["network fallen"].add(lower)
        self._openings[scene.network.port].add((at_s, at_s + AGREES_S) for at_s, _ in lower)

    def _stop_in_order(self, t_s: float) -> None:
        button = self.scene.button
        chance = stream(self.seed, "presses", self._presses)
        self._presses += 1
        if chance.uniform() < button.hangs:
            return
        dark_s = t_s + between(chance, button.dark_s)
        off_s = max(dark_s, t_s + between(chance, button.off_s))
        self._end(off_s)
        self.modes.plan(dark_s, [(dark_s, "stopping"), (off_s, "off")])

    def _end(self, t_s: float) -> None:
        if self.awake:
            self.awake = False
            self._on_before_s += t_s - self._on_since_s
        gone_s = t_s + self.scene.supply.rides_through_s
        self.modes.plan(gone_s, [(gone_s, "off")])
        for heating in self._heat.values():
            heating.power(t_s, 0.0)
        for spans in (*self._spells.values(), *self._openings.values()):
            spans.cut(gone_s)

    def _plans(self) -> tuple[bool, Track[Mode], dict[Spell, Spans], dict[str, Spans]]:
        return self.awake, self.modes, self._spells, self._openings

    def _go_on(self, t_s: float) -> None:
        """Take no notice of a break that the capacitors bridged."""
        plans = self._before_off
        self.awake, self.modes, self._spells, self._openings = plans
        if self.awake:
            self._on_since_s = t_s
            self._heat_up(t_s)

    def _stays_dead(self, t_s: float) -> bool:
        """Say whether it does not start: dead for good, fed too little, or latched by a break."""
        supply = self.scene.supply
        off_s = t_s - self._off_since_s
        latching = supply.latches_s
        latched = latching is not None and latching[0] <= off_s <= latching[1]
        return self._died or latched or self.supply_v < supply.starts_from_v

    @property
    def _died(self) -> bool:
        """Say whether it is dead for good: it starts no more and warms nothing."""
        dies_at = self.scene.start.dies_at
        return bool(dies_at) and self._spell >= dies_at

    def _heat_up(self, t_s: float) -> None:
        """Plan the heating of a spell; with a fan that is dead, or will die in it."""
        fan = self.scene.fan
        dies_s = t_s + max(0.0, self._fan_dies_s - self._on_before_s)
        for heating in self._heat.values():
            heating.power(t_s, 0.0 if self._died else 1.0)
            if fan is not None and not self._died:
                heating.power(dies_s, fan.factor)

    def _falls(self, what: Data | Network, t_s: float, until_s: float) -> list[Span]:
        """Return from when until when a link has fallen back; none if it never does."""
        if not what.falls_spot:
            return []
        grid_s = np.arange(t_s, until_s, GRID_S)
        hot = self.temperatures_degc(what.falls_spot, grid_s) > what.falls_above_degc
        return [(float(grid_s[np.argmax(hot)]), until_s)] if hot.any() else []

    def _coldness(self, t_s: float) -> float:
        """Return 1 with every spot at ambient, 0 with the warmest at its end value."""
        warm = [h.rise_k(t_s) / max(h.end_k, 1e-9) for h in self._heat.values()]
        return float(np.clip(1.0 - max(warm, default=0.0), 0.0, 1.0))

    def _rooms_degc(self, t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        room = self.scene.room
        swing_k = room.swing_k * np.sin(2.0 * np.pi * t_s / room.period_s + self._room_angle)
        return np.asarray(room.mean_degc + self._room_differs_k + swing_k)

    def _lay_looks(self, t_s: float) -> None:
        """Plan the picture anew from `t_s` on and tell who waits for it."""
        contact = self.scene.contacts.get("video")
        plain = [(at_s, _LOOKS[mode]) for at_s, mode in self.modes.since(t_s)]
        if contact is not None:
            looks = contact.looks

            def opened(look: str) -> str:
                return looks if look == "picture" or looks == "no signal" else look

            plain = laid_over(plain, self._openings["video"], opened)
        self.looks.plan(t_s, plain)
        self._tell()

    def _tell(self) -> None:
        """Tell whoever waits that plans have changed."""
        self.changed.set()
        self.changed = trio.Event()
