"""Scripts: which checks, in which order, how long, what is required."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Any

from pydantic import Field

from soak.checks.base import Check, Place, all_checks, needed
from soak.errors import ScriptError
from soak.quantities import show_duration
from soak.records import Json, Requirement, Role
from soak.rules.core.hourly import fixed
from soak.rules.picture import DROPOUTS_PER_HOUR
from soak.rules.picture_fine import SPARKLE_PER_HOUR
from soak.run.stop_early import planned, refuse_beside_hours
from soak.settings import Seconds, Settings, checked, nearest_name, read_toml

_SHIPPED = resources.files("soak.run") / "scripts"


class StretchHead(Settings):
    """What a stretch says of itself, beside the checks in it."""

    name: str = Field(min_length=1, pattern=r"^[a-z][a-z0-9 _-]*$")
    lasts: Seconds = Field(default=0.0, le=7 * 86400)
    attended: bool = False


class ScriptHead(Settings):
    """What a script says of itself, beside its stretches.

    Attributes
    ----------
    not_after : float
        Longest time in s that the whole script may take, holes included.
    confidence : float
        Confidence level of the bounds stated in findings.
    blind_allowed : float
        Share of a stretch in which the bench may be blind.
    longest_blind : float
        Longest single blindness in s.
    listing : bool
        Whether a soak by this script may go with a listing.
    beside : bool
        Whether it stands beside the job's soaks and replaces none: what it demands is added.
    """

    name: str = Field(min_length=1)
    about: str = ""
    not_after: Seconds = Field(gt=0, le=14 * 86400)
    confidence: float = Field(default=0.95, gt=0, lt=1)
    blind_allowed: float = Field(default=0.02, ge=0, le=1)
    longest_blind: Seconds = 300.0
    listing: bool = True
    beside: bool = False


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a script: a duration or count, and the checks that run side by side in it.

    Attributes
    ----------
    plan : Json or None
        The sequential plan that may end it early, frozen; see `stop_early`.
    """

    name: str
    lasts_s: float
    attended: bool
    checks: Mapping[str, Settings]
    plan: Json | None = None


@dataclass(frozen=True, slots=True)
class Script:
    """A script as read, before it is placed on a fixture."""

    file: str
    head: ScriptHead
    stretches: Sequence[Stretch]

    def as_json(self) -> dict[str, Any]:
        """Return the script fully resolved, as the journal's header keeps it."""
        head = self.head
        return {
            "name": head.name,
            "file": self.file,
            "about": head.about,
            "not_after_s": head.not_after,
            "confidence": head.confidence,
            "blind_allowed": head.blind_allowed,
            "longest_blind_s": head.longest_blind,
            "listing": head.listing,
            **({"beside": True} if head.beside else {}),
            "stretches": [
                {
                    "name": stretch.name,
                    "lasts_s": stretch.lasts_s,
                    "attended": stretch.attended,
                    **({"plan": stretch.plan} if stretch.plan else {}),
                    "checks": {
                        name: settings.model_dump(mode="json")
                        for name, settings in stretch.checks.items()
                    },
                }
                for stretch in self.stretches
            ],
        }

    def place(self, stretch: Stretch, fixture: Json, model_sheet: Json) -> Place:
        """Return where the checks of a stretch run."""
        return Place(
            stretch.name,
            fixture,
            model_sheet,
            self.head.confidence,
            self.head.blind_allowed,
            self.head.longest_blind,
            stretch.plan,
            stretch.attended,
            cycled=any(all_checks()[name].holds_switch for name in stretch.checks),
        )


def shipped_scripts() -> Sequence[str]:
    """Return the names of the scripts that come with soak."""
    return sorted(entry.name.removesuffix(".toml") for entry in _SHIPPED.iterdir())


def find_script(name: str, bench_folder: Path) -> Path:
    """Return a script's file: a path, a name in the bench's `scripts` folder, or a shipped one.

    Raises
    ------
    ScriptError
        If there is none of that name; names the nearest.
    """
    own = bench_folder / "scripts" / f"{name}.toml"
    if own.is_file():
        return own
    if name.endswith(".toml") or "/" in name:
        return Path(name)
    if name in shipped_scripts():
        return Path(str(_SHIPPED / f"{name}.toml"))
    known = [*shipped_scripts(), *(path.stem for path in own.parent.glob("*.toml"))]
    nearest = nearest_name(name, known)
    listed = "" if nearest else f"; there are {', '.join(known)}"
    raise ScriptError(name, "", f"there is no such script{listed}", nearest)


def read_script(path: Path, checks: Mapping[str, type[Check]] | None = None) -> Script:
    """Read a script.

    Raises
    ------
    ScriptError
        If the file is missing, is not TOML, names an unknown check or setting, holds an impossible
        value or contradicts itself.
    """
    data = read_toml(path, ScriptError, "script")
    # Where soak is installed is nobody's business and would change the seal from bench to bench.
    shipped = path.parent == Path(str(_SHIPPED))
    return script_from(data, path.name if shipped else str(path), checks or all_checks())


def script_from(data: Mapping[str, Any], file: str, checks: Mapping[str, type[Check]]) -> Script:
    """Check the content of a script file; see `read_script`."""
    rest = {key: value for key, value in data.items() if key != "stretch"}
    head = checked(ScriptHead, rest, file, ScriptError)
    given = data.get("stretch")
    if not isinstance(given, list) or not given:
        raise ScriptError(file, "stretch", "is missing; add at least one [[stretch]]")
    stretches = [_stretch(entry, file, number, checks) for number, entry in enumerate(given, 1)]
    _refuse_contradictions(file, head, stretches)
    return Script(file, head, stretches)


def _stretch(
    entry: Mapping[str, Any], file: str, number: int, checks: Mapping[str, type[Check]]
) -> Stretch:
    at = f"stretch[{number}]"
    tables = {key: value for key, value in entry.items() if isinstance(value, dict)}
    plan_table = tables.pop("plan", None)
    settings: Mapping[str, Settings] = {
        name: checked(
            _check(name, file, at, checks).settings, value, file, ScriptError, f"{at}.{name}"
        )
        for name, value in tables.items()
    }
    plain = {key: one for key, one in entry.items() if not isinstance(one, dict)}
    for key in plain:
        if key in checks:
            raise ScriptError(file, f"{at}.{key}", f"is a check; write it as [stretch.{key}]")
    head = checked(StretchHead, plain, file, ScriptError, at)
    held = [name for name in settings if checks[name].holds_switch]
    if len(held) > 1:
        both = " and ".join(held)
        raise ScriptError(file, at, f"{both} both hold the switch; put them into two stretches")
    plan, lasts_s, ending = None, head.lasts, [n for n in settings if checks[n].ends_by_itself]
    if plan_table is not None:
        plan, settings, lasts_s = planned(plan_table, file, at, settings, head.lasts)
        refuse_beside_hours(file, at, plan, ending)
    if lasts_s == 0 and not ending:
        raise ScriptError(file, f"{at}.lasts", "is missing; nothing else ends this stretch")
    if not settings:
        raise ScriptError(file, at, f"holds no check; add one of {', '.join(sorted(checks))}")
    return Stretch(head.name, lasts_s, head.attended, settings, plan)


def _check(name: str, file: str, at: str, checks: Mapping[str, type[Check]]) -> type[Check]:
    if name in checks:
        return checks[name]
    nearest = nearest_name(name, list(checks))
    listed = "" if nearest else f"; the checks are {', '.join(sorted(checks))}"
    raise ScriptError(file, f"{at}.{name}", f"there is no such check{listed}", nearest)


def _refuse_contradictions(file: str, head: ScriptHead, stretches: Sequence[Stretch]) -> None:
    seen: set[str] = set()
    for number, stretch in enumerate(stretches, 1):
        if stretch.name in seen:
            at = f"stretch[{number}].name"
            raise ScriptError(file, at, f"{stretch.name!r} is there twice; give it another name")
        seen.add(stretch.name)
        earlier = stretches[: number - 1]
        if stretch.attended and not all(before.attended for before in earlier):
            raise ScriptError(
                file, f"stretch[{number}].attended", "comes after an unattended one; put it first"
            )
    shortest_s = sum(stretch.lasts_s for stretch in stretches)
    if shortest_s > head.not_after:
        what = f"{show_duration(head.not_after)} is shorter than the stretches together"
        raise ScriptError(file, "not_after", f"{what}; they last {show_duration(shortest_s)}")


def script_again(resolved: Json) -> Script:
    """Return the script that a journal's header holds.

    Raises
    ------
    ScriptError
        If a check or setting of it is no longer known to this version.
    """
    file, checks = str(resolved["file"]), all_checks()
    head = ScriptHead(
        name=resolved["name"],
        about=resolved["about"],
        not_after=resolved["not_after_s"],
        confidence=resolved["confidence"],
        blind_allowed=resolved["blind_allowed"],
        longest_blind=resolved["longest_blind_s"],
        listing=resolved["listing"],
        beside=resolved.get("beside", False),
    )
    stretches = []
    for entry in resolved["stretches"]:
        settings = {
            name: checked(_check(name, file, name, checks).settings, given, file, ScriptError, name)
            for name, given in entry["checks"].items()
        }
        plan = entry.get("plan")
        stretches.append(
            Stretch(entry["name"], entry["lasts_s"], entry["attended"], settings, plan)
        )
    return Script(file, head, stretches)


def build_checks(
    script: Script, stretch: Stretch, fixture: Json, model_sheet: Json
) -> Sequence[Check]:
    """Return the stretch's checks, placed on a fixture."""
    place = script.place(stretch, fixture, model_sheet)
    found = all_checks()
    return [found[name](settings, place) for name, settings in stretch.checks.items()]


def time_keepers(stretch: Stretch, checks: Sequence[Check]) -> frozenset[Role]:
    """Return the roles without which nothing says how long the stretch lasts."""
    if stretch.lasts_s > 0:
        return frozenset()
    return frozenset(role for check in checks if check.ends_by_itself for role in needed(check))


def _kept_time(
    stretch: Stretch, checks: Sequence[Check], requirements: Sequence[Requirement]
) -> list[Requirement]:
    """Add the time keepers' roles: without them the stretch cannot run and tests nothing."""
    roles = time_keepers(stretch, checks)
    return [replace(one, needs=one.needs | roles) for one in requirements]


def all_requirements(script: Script, fixture: Json, model_sheet: Json) -> Sequence[Requirement]:
    """Return every requirement of a script on a fixture.

    Raises
    ------
    ScriptError
        If a check's settings contradict the fixture or model sheet.
    """
    found: dict[str, Requirement] = {}
    lasts_s: dict[str, float] = {}
    for stretch in script.stretches:
        checks = build_checks(script, stretch, fixture, model_sheet)
        lasts_s[stretch.name] = max([stretch.lasts_s, *(one.expected_s() for one in checks)])
        for check in checks:
            for requirement in _kept_time(stretch, checks, check.requirements()):
                if requirement.id in found:
                    raise ScriptError(script.file, requirement.id, "is demanded twice")
                found[requirement.id] = requirement
    return fixed(found.values(), lasts_s, (DROPOUTS_PER_HOUR, SPARKLE_PER_HOUR))
