"""The fixture: which instruments are wired to one unit, and what each said of itself once open."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar

from soak.frozen.shape import Json, kept, read_as
from soak.frozen.wiring import (
    ROLE_SETTINGS,
    ButtonWired,
    CaptureWired,
    LinkWired,
    LoadWired,
    NetworkWired,
    ProbeWired,
    Role,
    ServoWired,
    SettableSwitch,
    StickWired,
    SwitchWired,
    Wired,
    role_of,
)

W = TypeVar("W", bound=Wired)

SIMULATED = "simulated"
"""The kind of every simulated driver; the key under which a fixture names its scene."""

_IDENTITY = "identity"


@kept
class Identity:
    """What an instrument said of itself when it was opened.

    Attributes
    ----------
    nature : str
        What it is, by `soak.natures`; empty: nobody looked.
    rate_hz : float or None
        Of a capture: pictures a second.
    cannot : mapping of name to str
        Of a watcher: what it cannot count, and why.
    hangs_up_on_the_bus : bool
        Of a hub as switch: a device leaves the bus when its port goes off.
    stick_id, serial, pack, file_system : str
        Of a stick: by what it, and what was packed onto it, is known; empty: not known.
    claims_bytes, packed_bytes : float
        Of a stick: what it claims to hold, and what was packed onto it, B.
    told : Json
        All that it said, with what only people read.
    """

    nature: str = ""
    rate_hz: float | None = None
    cannot: Mapping[str, str] = field(default_factory=dict)
    hangs_up_on_the_bus: bool = False
    stick_id: str = ""
    serial: str = ""
    pack: str = ""
    file_system: str = ""
    claims_bytes: float = 0.0
    packed_bytes: float = 0.0
    told: Json = field(default_factory=dict)

    @classmethod
    def of(cls, told: Json, at: str = "") -> "Identity":
        """Return the identity that says this."""
        return replace(read_as(cls, {**told, "told": {}}, at), told=told)


@kept
class Own:
    """What settings of some drivers say, beyond those of their role, that is asked after a soak.

    Attributes
    ----------
    every_s : float
        How often it is read, s; 0: not said.
    silent_after_s : float
        Of a probe: without a reading for so long it is blind, s; 0: not said, so never.
    port, hub, device : str
        Where the bench reaches it.
    positions : mapping
        Of a servo: where it turns for each movement.
    movements : sequence of str
        Of a servo: the movements that it can make.
    calibration : str
        How it was calibrated.
    """

    every_s: float = 0.0
    silent_after_s: float = 0.0
    port: str = ""
    hub: str = ""
    device: str = ""
    positions: Mapping[str, Any] = field(default_factory=dict)
    movements: tuple[str, ...] = ()
    calibration: str = ""


@dataclass(frozen=True, slots=True)
class Fixture:
    """The instruments wired to one unit, checked; opened, if they have identities.

    Attributes
    ----------
    name : str
        As the file says.
    file : str
        The file as the operator named it.
    simulated : str
        Name or path of the scene the simulated instruments play; empty for real ones.
    wired : mapping of source to Wired
        `switch`, `probe.heatsink`; in the order of the table of roles. As read from a header each
        is of the class of its role, whatever drove it.
    identities : mapping of source to Identity
        What each said of itself when it was opened; empty before.
    recorded : mapping of source to Json
        Of a header: each entry as it stands there, with the driver's own settings, which people
        read and `own` knows in part.
    """

    name: str = ""
    file: str = ""
    simulated: str = ""
    wired: Mapping[str, Wired] = field(default_factory=dict)
    identities: Mapping[str, Identity] = field(default_factory=dict)
    recorded: Mapping[str, Json] = field(default_factory=dict)

    @classmethod
    def of_json(cls, told: Json) -> "Fixture":
        """Return the fixture that a header holds.

        Raises
        ------
        ValueError
            If a value is not of its kind.
        """
        entries: dict[str, Any] = {}
        for role, kind in ROLE_SETTINGS.items():
            entry = told.get(role) or {}
            if not isinstance(entry, Mapping):
                raise ValueError(f"fixture.{role} is {entry!r}")
            if kind.named:
                entries |= {f"{role}.{name}": entry[name] for name in sorted(entry)}
            elif entry:
                entries[role] = entry
        at = {source: f"fixture.{source}" for source in entries}
        return cls(
            **{key: str(told.get(key) or "") for key in ("name", "file", SIMULATED)},
            wired={s: _wired(s, one, at[s]) for s, one in entries.items()},
            identities={
                s: Identity.of(one.get(_IDENTITY) or {}, at[s]) for s, one in entries.items()
            },
            recorded={
                s: {key: told for key, told in one.items() if key != _IDENTITY}
                for s, one in entries.items()
            },
        )

    def as_json(self) -> dict[str, Any]:
        """Return it as it stands in a journal's header."""
        data: dict[str, Any] = {"name": self.name, "file": self.file, SIMULATED: self.simulated}
        for source, wired in self.wired.items():
            entry = {**self.settings(source), _IDENTITY: dict(self.identity(source).told)}
            if wired.named:
                data.setdefault(wired.role, {})[source.removeprefix(f"{wired.role}.")] = entry
            else:
                data[source] = entry
        return data

    def opened(self, identities: Mapping[str, Json]) -> "Fixture":
        """Return it with what its instruments said of themselves, in the order of a header."""
        order = [*ROLE_SETTINGS]
        sources = sorted(self.wired, key=lambda source: (order.index(role_of(source)), source))
        return replace(
            self,
            wired={source: self.wired[source] for source in sources},
            identities={source: Identity.of(one) for source, one in identities.items()},
        )

    def of(self, kind: type[W]) -> W | None:
        """Return the settings of the role that a class of `soak.frozen.wiring` is of, if wired."""
        wired = self.wired.get(kind.role)
        return wired if isinstance(wired, kind) else None

    @property
    def switch(self) -> SwitchWired | None:
        """The switch."""
        return self.of(SwitchWired)

    @property
    def supply(self) -> SettableSwitch | None:
        """The switch, if it is a supply whose voltage soak sets."""
        switch = self.of(SettableSwitch)
        return switch if switch is not None and switch.sets_voltage else None

    @property
    def capture(self) -> CaptureWired | None:
        """The capture."""
        return self.of(CaptureWired)

    @property
    def stick(self) -> StickWired | None:
        """The stick."""
        return self.of(StickWired)

    @property
    def link(self) -> LinkWired | None:
        """What watches a USB link."""
        return self.of(LinkWired)

    @property
    def network(self) -> NetworkWired | None:
        """The network port."""
        return self.of(NetworkWired)

    @property
    def load(self) -> LoadWired | None:
        """The load."""
        return self.of(LoadWired)

    @property
    def button(self) -> ButtonWired | None:
        """What presses the unit's own power button."""
        return self.of(ButtonWired)

    @property
    def servo(self) -> ServoWired | None:
        """What moves a plug."""
        return self.of(ServoWired)

    @property
    def probes(self) -> Mapping[str, ProbeWired]:
        """The probes by their NAME in the file (`heatsink`, without `probe.`)."""
        return {
            source.removeprefix("probe."): wired
            for source, wired in self.wired.items()
            if isinstance(wired, ProbeWired)
        }

    @property
    def roles(self) -> frozenset[Role]:
        """The roles that are wired."""
        return frozenset(wired.role for wired in self.wired.values())

    @property
    def stick_path(self) -> str:
        """How data crosses the unit's port; empty without a stick."""
        return "" if self.stick is None else self.stick.path

    def port_of(self, role: Role) -> str:
        """Return the unit's port that the one instrument of a role is at; empty if none is."""
        return str(getattr(self.wired.get(role), "port", "") or "")

    def entries(self) -> Iterator[tuple[str, Role, Wired]]:
        """Yield (source, role, settings) of each wired instrument; the switch first."""
        yield from ((source, role_of(source), wired) for source, wired in self.wired.items())

    def identity(self, source: str) -> Identity:
        """Return what an instrument said of itself; nothing if it was not opened."""
        return self.identities.get(source, _SAID_NOTHING)

    def settings(self, source: str) -> dict[str, Any]:
        """Return all settings of an instrument as they stand in a header, for people to read."""
        if source in self.recorded:
            return dict(self.recorded[source])
        return self.wired[source].model_dump(mode="json")

    def own(self, source: str) -> Own:
        """Return what is asked of a driver's own settings."""
        return read_as(Own, self.settings(source)) if source in self.wired else Own()


_SAID_NOTHING = Identity()


def _wired(source: str, entry: Any, at: str) -> Wired:
    """Return the settings that an entry says; of a switch those of a supply, if it may be one."""
    if isinstance(entry, Mapping) and "sets_voltage" in entry:
        return read_as(SettableSwitch, entry, at)
    return read_as(ROLE_SETTINGS[role_of(source)], entry, at)
