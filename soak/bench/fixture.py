"""The fixture file: which instruments are wired to one unit, and by which drivers."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, TypeVar

from pydantic import Field, StringConstraints, create_model

from soak.bench.model_sheet import ModelSheet
from soak.bench.registry import Drivers, drivers
from soak.bench.wiring import (
    CaptureWired,
    Claim,
    ProbeWired,
    Rated,
    SettableSwitch,
    StickWired,
    SwitchWired,
    Wired,
)
from soak.errors import FixtureError
from soak.instruments import ROLES, Instruments, role_of
from soak.records import Role
from soak.settings import Settings, checked, nearest_name, read_toml

_NAME = r"^[A-Za-z0-9][A-Za-z0-9_-]*$"
W = TypeVar("W", bound=Wired)

SIMULATED = "simulated"
"""The kind of every simulated driver."""


class _Top(Settings):
    """The top of a fixture file, without its instruments."""

    name: Annotated[str, Field(min_length=1)]
    simulated: str = ""


_Entry = Mapping[str, Any]
_Named = Mapping[Annotated[str, StringConstraints(pattern=_NAME)], _Entry]
_TABLES: dict[str, Any] = {
    role: (_Named, {}) if entry.named else (_Entry | None, None) for role, entry in ROLES.items()
}
_File = create_model("_File", __base__=_Top, **_TABLES)
"""The top of a fixture file: a table for each role."""


@dataclass(frozen=True, slots=True)
class Fixture:
    """The instruments wired to one unit, checked but not opened.

    Attributes
    ----------
    name : str
        As the file says.
    file : str
        The file as the operator named it.
    simulated : str
        Name or path of the scene the simulated instruments play; empty for real ones.
    wired : mapping of source to Wired
        `switch`, `probe.heatsink`; in the order of the table of roles.
    """

    name: str
    file: str
    simulated: str = ""
    wired: Mapping[str, Wired] = field(default_factory=dict)

    def of(self, kind: type[W]) -> W | None:
        """Return the settings of the role that a class of `soak.bench.wiring` is of, if wired."""
        found = self.wired.get(kind.role)
        return found if isinstance(found, kind) else None

    @property
    def switch(self) -> SwitchWired | None:
        """The switch."""
        return self.of(SwitchWired)

    @property
    def capture(self) -> CaptureWired | None:
        """The capture."""
        return self.of(CaptureWired)

    @property
    def stick(self) -> StickWired | None:
        """The stick."""
        return self.of(StickWired)

    @property
    def probes(self) -> Mapping[str, ProbeWired]:
        """The probes by their NAME in the file (`heatsink`, without `probe.`)."""
        return {
            source.removeprefix("probe."): wired
            for source, wired in self.wired.items()
            if isinstance(wired, ProbeWired)
        }

    def entries(self) -> Iterator[tuple[str, Role, Wired]]:
        """Yield (source, role, settings) of each wired instrument; the switch first."""
        yield from ((source, role_of(source), wired) for source, wired in self.wired.items())

    def as_json(self, instruments: Instruments | None = None) -> dict[str, Any]:
        """Return it as it stands in a journal's header; identities once instruments are open."""
        found = {} if instruments is None else instruments.by_source()

        def entry(source: str, wired: Wired) -> dict[str, Any]:
            instrument = found.get(source)
            identity = {} if instrument is None else dict(instrument.identity)
            return {**wired.model_dump(mode="json"), "identity": identity}

        data: dict[str, Any] = {"name": self.name, "file": self.file, SIMULATED: self.simulated}
        for source, role, wired in self.entries():
            if ROLES[role].named:
                data.setdefault(role, {})[source.removeprefix(f"{role}.")] = entry(source, wired)
            else:
                data[source] = entry(source, wired)
        return data


def read_fixture(
    path: Path, model_sheet: ModelSheet | None = None, extra: Drivers = MappingProxyType({})
) -> Fixture:
    """Read a fixture file and check every entry against its driver and the model sheet.

    Parameters
    ----------
    model_sheet : ModelSheet or None
        If given, spots and ports must be the model's.
    extra : Drivers
        Drivers besides the built-in ones: the simulated ones.

    Raises
    ------
    FixtureError
        With file, key path, what to do, and the nearest valid key: the file is missing or not
        TOML, a driver or key is unknown, a value is impossible, a spot or port is not the
        model's, or two instruments take the same port and channel.
    """
    file, known = str(path), {**drivers(), **extra}
    top = checked(_File, read_toml(path, FixtureError, "fixture"), file, FixtureError)

    wired: dict[str, Wired] = {}
    for role, entry in ROLES.items():
        told = getattr(top, role)
        named = {f"{role}.{name}": data for name, data in told.items()} if entry.named else {}
        named |= {} if entry.named or told is None else {role: told}
        for source, data in named.items():
            wired[source] = _entry(known, role, source, data, top.simulated, file)
    if isinstance(switch := wired.get("switch"), SwitchWired):
        wired["switch"] = with_rated(switch, model_sheet, file)
    fixture = Fixture(name=top.name, file=file, simulated=top.simulated, wired=wired)
    if not wired:
        tables = " ".join(f"[{role}{'.NAME' if one.named else ''}]" for role, one in ROLES.items())
        raise FixtureError(file, "", f"wires no instrument; add one of {tables}")
    _path_names_its_port(fixture)
    _apart_from_the_switch(fixture)
    if model_sheet is not None:
        _spots_exist(fixture, model_sheet)
        _ports_exist(fixture, model_sheet)
    check_claims([fixture])
    return fixture


def check_claims(fixtures: Sequence[Fixture]) -> None:
    """Check that no two instruments of one run take the same port and channel.

    Raises
    ------
    FixtureError
        Naming both instruments and, where they differ, both fixtures.
    """
    taken: list[tuple[Claim, Fixture, str]] = []
    for fixture in fixtures:
        for source, _, wired in fixture.entries():
            claims = [Claim(_same_name(port), part) for port, part in wired.claims()]
            for claim in claims:
                for other, theirs, whose in taken:
                    if _collide(claim, other):
                        where = whose if theirs is fixture else f"{whose} of {theirs.file}"
                        part = f", {claim.part}," if claim.part == other.part != "" else ""
                        raise FixtureError(
                            fixture.file,
                            source,
                            f"takes {claim.port}{part} which {where} takes too; "
                            "give each its own port or channel",
                        )
            taken += [(claim, fixture, source) for claim in claims]


def _same_name(port: str) -> str:
    return port if "/" in port and ":" not in port.split("/")[0] else port.lower()


def _collide(one: Claim, other: Claim) -> bool:
    return one.port == other.port and (one.part == other.part or "" in (one.part, other.part))


def _entry(
    known: Drivers, role: Role, at: str, data: Mapping[str, Any], scene: str, file: str
) -> Wired:
    kinds = sorted(kind for of, kind in known if of == role)
    listed = ", ".join(kinds)
    if "driver" not in data:
        raise FixtureError(file, f"{at}.driver", f"is missing; the drivers are {listed}")
    kind = data["driver"]
    if not isinstance(kind, str) or kind not in kinds:
        nearest = nearest_name(str(kind), kinds)
        raise FixtureError(
            file,
            f"{at}.driver",
            f"there is no {role} driver {kind!r}; the drivers are {listed}",
            nearest,
        )
    if scene and kind != SIMULATED:
        raise FixtureError(
            file,
            f"{at}.driver",
            f"{kind} is a real instrument in a simulated fixture; "
            f'write driver = "{SIMULATED}", or remove `simulated` at the top',
        )
    if kind == SIMULATED and not scene:
        raise FixtureError(file, SIMULATED, f"is missing; name the scene that {at} plays")
    return checked(known[role, kind].settings, data, file, FixtureError, at)


def _path_names_its_port(fixture: Fixture) -> None:
    stick = fixture.stick
    if stick is not None and stick.path != "bench_only" and not stick.port:
        raise FixtureError(
            fixture.file,
            "stick.port",
            f"is missing; path {stick.path!r} needs the unit's port the data crosses",
        )


def _apart_from_the_switch(fixture: Fixture) -> None:
    """Refuse what shares the switch's adapter: its port belongs to the guard's process."""
    owned = set() if fixture.switch is None else {claim.port for claim in fixture.switch.claims()}
    for source, role, wired in fixture.entries():
        shared = next((claim.port for claim in wired.claims() if claim.port in owned), None)
        if shared is not None and not ROLES[role].guarded:
            what = f"{shared} is the switch's, which the guard keeps to itself; give the {source} "
            raise FixtureError(fixture.file, f"{source}.port", f"{what}an adapter of its own")


def _spots_exist(fixture: Fixture, sheet: ModelSheet) -> None:
    spots = [*sheet.spots, "ambient"]
    for name, probe in fixture.probes.items():
        at = f"probe.{name}.spot"
        if not probe.spot and probe.unit == "degC":
            raise FixtureError(fixture.file, at, f"is missing; name one of {', '.join(spots)}")
        if probe.spot and probe.unit != "degC":
            what = f"is {probe.unit!r}, but a spot has a temperature; write degC or remove spot"
            raise FixtureError(fixture.file, f"probe.{name}.unit", what)
        if probe.spot and probe.spot not in spots:
            raise FixtureError(
                fixture.file,
                at,
                f"the model sheet of {sheet.model} has no spot {probe.spot!r}; "
                f"its spots are {', '.join(spots)}",
                nearest_name(probe.spot, spots),
            )


def _ports_exist(fixture: Fixture, sheet: ModelSheet) -> None:
    for source, _, wired in fixture.entries():
        at = wired.at_unit
        port = "" if at is None else getattr(wired, at.key)
        if at is None or not port:
            continue
        fitting = [name for name, entry in sheet.ports.items() if at.kind in (entry.kind, "")]
        if port not in fitting:
            named = sheet.ports.get(port)
            what = (
                f"there is no port {port!r}"
                if named is None
                else f"{port!r} is a {named.kind} port"
            )
            kind = f"{at.kind} ports" if at.kind else "ports"
            listed = ", ".join(fitting) or "none"
            raise FixtureError(
                fixture.file,
                f"{source}.{at.key}",
                f"{what} in the model sheet of {sheet.model}; its {kind}: {listed}",
                nearest_name(port, fitting),
            )


def with_rated(switch: SwitchWired, sheet: ModelSheet | None, file: str) -> SwitchWired:
    """Return the switch as it is, or, where it sets the voltage, told the model's rated voltages.

    Raises
    ------
    FixtureError
        If the fixture file itself gives them, the model sheet does not, or the supply is too
        inaccurate to be set between them.
    """
    if not isinstance(switch, SettableSwitch):
        return switch
    if switch.rated is not None:
        what = "is not written here; write the rated voltages under [supply] in the model sheet"
        raise FixtureError(file, "switch.rated", what)
    if sheet is None or not switch.sets_voltage:
        return switch
    if sheet.supply is None:
        what = (
            f"the model sheet of {sheet.model} gives no rated supply; add [supply] with "
            "lowest_v, nominal_v and highest_v there, or set the voltage by hand"
        )
        raise FixtureError(file, "switch.sets_voltage", what)
    low_v, high_v = sheet.supply.tried_v(switch.accuracy_v)
    if not low_v <= sheet.supply.nominal_v <= high_v:
        what = (
            f"{switch.accuracy_v:g} V is wider than the room between nominal and rated limits of "
            f"{sheet.model}; use a better supply, or set the voltage by hand"
        )
        raise FixtureError(file, "switch.accuracy_v", what)
    rated = Rated(**{key: getattr(sheet.supply, key) for key in Rated.model_fields})
    return switch.model_copy(update={"rated": rated})
