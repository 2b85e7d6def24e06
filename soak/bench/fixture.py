"""The fixture file: which instruments are wired to one unit, and by which drivers."""

import re
from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Any, NamedTuple

from pydantic import Field, create_model

from soak.allowed import Takes, show
from soak.bench.rated_switch import with_rated as with_rated
from soak.bench.registry import Drivers, drivers
from soak.errors import FixtureError
from soak.frozen.fixture import SIMULATED, Fixture
from soak.frozen.sheet import ModelSheet
from soak.frozen.wiring import (
    ROLE_SETTINGS,
    Claim,
    ProbeWired,
    Role,
    SwitchWired,
    Wired,
)
from soak.instruments import ROLES
from soak.mistakes import Mistakes, no_name
from soak.settings import Settings, nearest_name, read_toml
from soak.words import joined, just, msg

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]*")


class FixtureHead(Settings):
    """What a fixture file says of itself, beside its instruments.

    Attributes
    ----------
    name : str
        What the fixture is called on pages and in reports.
    simulated : str
        Name or path of the scene that simulated instruments play; left out: they are real.
    """

    name: Annotated[str, Field(min_length=1)]
    simulated: str = ""


_Entry = Annotated[
    Mapping[str, Any],
    Takes(
        msg("a table that names its driver"),
        example=msg("{one} or {other}", one="[switch]", other="[probe.NAME]"),
    ),
]
_NAMED = msg('letters, digits, "-" and "_", a letter or digit first')
_Named = Mapping[Annotated[str, Takes(_NAMED)], _Entry]
_TABLES: dict[str, Any] = {
    role: (_Named, {}) if kind.named else (_Entry | None, None)
    for role, kind in ROLE_SETTINGS.items()
}
_File = create_model("_File", __base__=FixtureHead, **_TABLES)
"""The top of a fixture file: a table for each role."""


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
    file = str(path)
    known = {**drivers(), **extra}
    wrong = Mistakes(file, FixtureError)
    top = wrong.checked(_File, read_toml(path, FixtureError, msg("fixture")))
    entries = _Entries(wrong, known, getattr(top, SIMULATED, None))
    wired: dict[str, Wired] = {}
    for role in ROLE_SETTINGS:
        wired |= entries.read(role, getattr(top, role, None))
    if isinstance(switch := wired.get("switch"), SwitchWired):
        with wrong.gathered():
            wired["switch"] = with_rated(switch, model_sheet, file)
    name = getattr(top, "name", "")
    scene = entries.scene or ""
    fixture = Fixture(name=name, file=file, simulated=scene, wired=wired)
    if not wrong and not wired:
        tables = " ".join(
            f"[{role}{'.NAME' if kind.named else ''}]" for role, kind in ROLE_SETTINGS.items()
        )
        raise FixtureError(file, "", msg("wires no instrument; add one of {tables}", tables=tables))
    _look_across(wrong, fixture, model_sheet)
    wrong.tell()
    return fixture


def _look_across(wrong: Mistakes, fixture: Fixture, sheet: ModelSheet | None) -> None:
    """Take in what does not fit together, of what each entry says rightly."""
    with wrong.gathered():
        _path_names_its_port(fixture)
    owned: set[str] = set()
    with wrong.gathered():
        owned |= {claim.port for claim in fixture.switch.claims()} if fixture.switch else set()
    for source, role, wired in fixture.entries():
        with wrong.gathered():
            _apart_from_the_switch(fixture, source, role, wired=wired, owned=owned)
        if sheet is None:
            continue
        with wrong.gathered():
            _port_exists(fixture, source, wired, sheet)
        if isinstance(wired, ProbeWired):
            with wrong.gathered():
                _spot_exists(fixture, source, wired, sheet)
    taken: list[_Taken] = []
    for source, _, wired in fixture.entries():
        with wrong.gathered():
            _take(fixture, source, wired, taken=taken)


def check_claims(fixtures: Sequence[Fixture], called: Callable[[str], str] | None = None) -> None:
    """Check that no two instruments of one run take the same port and channel.

    Parameters
    ----------
    called : callable or None
        Gives the one name of a port that has several, such as its device; None: as it is written.

    Raises
    ------
    FixtureError
        Naming both instruments and, where they differ, both fixtures.
    """
    taken: list[_Taken] = []
    for fixture in fixtures:
        wrong = Mistakes(fixture.file, FixtureError)
        for source, _, wired in fixture.entries():
            with wrong.gathered():
                _take(fixture, source, wired, taken=taken, called=called)
        wrong.tell()


class _Taken(NamedTuple):
    """What an instrument of a fixture takes for itself."""

    claim: Claim
    fixture: Fixture
    source: str


def _take(
    fixture: Fixture,
    source: str,
    wired: Wired,
    *,
    taken: list[_Taken],
    called: Callable[[str], str] | None = None,
) -> None:
    """Add what an instrument takes to what is taken, unless something has it already."""
    name = called or _same_name
    claims = [Claim(name(port), part) for port, part in wired.claims()]
    for claim in claims:
        for other in taken:
            if _collide(claim, other.claim):
                near = other.fixture is fixture
                where = just(other.source)
                if not near:
                    where = msg("{source} of {file}", source=other.source, file=other.fixture.file)
                same = claim.part == other.claim.part != ""
                port = f"{claim.port}, {claim.part}," if same else claim.port
                taken_too = msg(
                    "takes {port} which {where} takes too; give each its own port or channel",
                    port=port,
                    where=where,
                )
                raise FixtureError(fixture.file, source, taken_too)
    taken += [_Taken(claim, fixture, source) for claim in claims]


def _same_name(port: str) -> str:
    return port if "/" in port and ":" not in port.split("/")[0] else port.lower()


def _collide(one: Claim, other: Claim) -> bool:
    return one.port == other.port and (one.part == other.part or "" in (one.part, other.part))


@dataclass(frozen=True, slots=True)
class _Entries:
    """Reads the entries of a fixture file, each by the settings of its driver.

    Attributes
    ----------
    scene : str or None
        What the file says as `simulated`; None: what it says is wrong.
    """

    wrong: Mistakes
    known: Drivers
    scene: str | None

    def read(self, role: Role, told: Any) -> dict[str, Wired]:
        """Return the settings of a role's instruments by source."""
        entries: dict[str, Any] = {} if told is None else {role: told}
        if ROLE_SETTINGS[role].named:
            entries = {f"{role}.{name}": data for name, data in (told or {}).items()}
            for name in told or ():
                if not _NAME.fullmatch(name):  # its entry is looked through all the same
                    self.wrong.add(f"{role}.{name}", no_name(_NAMED))
        read = {source: self._entry(role, source, data) for source, data in entries.items()}
        return {source: wired for source, wired in read.items() if wired is not None}

    def _entry(self, role: Role, at: str, data: Mapping[str, Any]) -> Wired | None:
        kinds = sorted(kind for of, kind in self.known if of == role)
        kind = data.get("driver")
        listed = ", ".join(kinds)
        if kind not in kinds:
            what = msg(
                "there is no {role} driver {kind}; the drivers are {listed}",
                role=role,
                kind=show(kind),
                listed=listed,
            )
            if kind is None:
                what = msg("is missing; the drivers are {listed}", listed=listed)
            self.wrong.add(f"{at}.driver", what, nearest_name(str(kind or ""), kinds))
            return self._by_role_alone(role, data)
        if self.scene and kind != SIMULATED:
            self.wrong.add(
                f"{at}.driver",
                msg(
                    "{kind} is a real instrument in a simulated fixture; write driver = "
                    '"{driver}", '
                    "or remove `simulated` at the top",
                    kind=str(kind),
                    driver=SIMULATED,
                ),
            )
        if self.scene == "" and kind == SIMULATED:
            self.wrong.add(SIMULATED, msg("is missing; name the scene that {at} plays", at=at))
        return self.wrong.checked(self.known[role, kind].settings, data, at)

    def _by_role_alone(self, role: Role, data: Mapping[str, Any]) -> Wired:
        """Return what any driver of a role would read, to look for further mistakes."""
        model = ROLE_SETTINGS[role]
        keys = {key: value for key, value in data.items() if key in model.model_fields}
        return Mistakes(self.wrong.file, FixtureError).checked(model, {**keys, "driver": ""})


def _path_names_its_port(fixture: Fixture) -> None:
    stick = fixture.stick
    if stick is not None and stick.path != "bench_only" and not stick.port:
        raise FixtureError(
            fixture.file,
            "stick.port",
            msg(
                "is missing; path {path} needs the unit's port the data crosses",
                path=repr(stick.path),
            ),
        )


def _apart_from_the_switch(
    fixture: Fixture, source: str, role: Role, wired: Wired, owned: Set[str]
) -> None:
    """Refuse what shares the switch's adapter: its port belongs to the guard's process."""
    shared = next((claim.port for claim in wired.claims() if claim.port in owned), None)
    if shared is not None and not ROLES[role].guarded:
        what = msg(
            "{shared} is the switch's, which the guard keeps to itself; give the {source} an "
            "adapter of its own",
            shared=shared,
            source=source,
        )
        raise FixtureError(fixture.file, f"{source}.port", what)


def _spot_exists(fixture: Fixture, source: str, probe: ProbeWired, sheet: ModelSheet) -> None:
    spots = [*sheet.spots, "ambient"]
    at = f"{source}.spot"
    if not probe.spot and probe.unit == "degC":
        raise FixtureError(
            fixture.file, at, msg("is missing; name one of {spots}", spots=joined(", ", spots))
        )
    if probe.spot and probe.spot not in spots:
        raise FixtureError(
            fixture.file,
            at,
            msg(
                "the model sheet of {model} has no spot {spot}; its spots are {spots}",
                model=sheet.model,
                spot=repr(probe.spot),
                spots=joined(", ", spots),
            ),
            nearest_name(probe.spot, spots),
        )
    if probe.spot and probe.unit != "degC":
        what = msg(
            "is {unit}, but a spot has a temperature; write degC or remove spot",
            unit=repr(probe.unit),
        )
        raise FixtureError(fixture.file, f"{source}.unit", what)


def _port_exists(fixture: Fixture, source: str, wired: Wired, sheet: ModelSheet) -> None:
    at = wired.at_unit
    port = "" if at is None else getattr(wired, at.key)
    if at is None or not port:
        return
    fitting = [name for name, entry in sheet.ports.items() if at.kind in (entry.kind, "")]
    if port not in fitting:
        named = sheet.ports.get(port)
        what = (
            msg("there is no port {port}", port=repr(port))
            if named is None
            else msg("{port} is a {kind} port", port=repr(port), kind=named.kind)
        )
        kind = msg("{kind} ports", kind=at.kind) if at.kind else msg("ports")
        listed = ", ".join(fitting) or "none"
        raise FixtureError(
            fixture.file,
            f"{source}.{at.key}",
            msg(
                "{what} in the model sheet of {model}; its {kind}: {listed}",
                what=what,
                model=sheet.model,
                kind=kind,
                listed=listed,
            ),
            nearest_name(port, fitting),
        )
