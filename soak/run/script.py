"""Scripts: which checks, in which order, how long, what is required."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from typing import Annotated, Any

from pydantic import Field

from soak.allowed import Takes
from soak.checks.base import Check, Place, all_checks, needed
from soak.errors import ScriptError
from soak.frozen.fixture import Fixture
from soak.frozen.script import PlannedScript, PlannedStretch
from soak.frozen.sheet import ModelSheet
from soak.mistakes import Mistakes
from soak.outside import is_file
from soak.records import Json, Requirement, Role
from soak.rules.core.hourly import fixed
from soak.rules.picture import DROPOUTS_PER_HOUR
from soak.rules.picture_fine import SPARKLE_PER_HOUR
from soak.run.stop_early import planned, refuse_beside_hours
from soak.settings import Seconds, Settings, nearest_name, read_toml
from soak.words import Amount, joined, msg

_SHIPPED = resources.files("soak.run") / "scripts"


_NAME = Takes(msg('small letters, digits, spaces, "-" and "_", a letter first'))

LONGEST_S = 7 * 86400.0
"""No stretch lasts longer, s. Own choice: a week; who wants more soaks again."""


class StretchHead(Settings):
    """What a stretch says of itself, beside the checks in it.

    Attributes
    ----------
    name : str
        What the stretch is called on pages and in reports.
    lasts : float
        How long it lasts, s; 0: until its checks come to their end by themselves.
    attended : bool
        Whether a person is beside the unit and can be asked.
    """

    name: Annotated[str, _NAME] = Field(min_length=1, pattern=r"^[a-z][a-z0-9 _-]*$")
    lasts: Seconds = Field(default=0.0, le=LONGEST_S)
    attended: bool = False


class ScriptHead(Settings):
    """What a script says of itself, beside its stretches.

    Attributes
    ----------
    name : str
        What the script is called on pages and in reports.
    about : str
        What it is for, in a sentence.
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


_TABLES = Takes(msg("at least one table [[stretch]]"))


class _File(ScriptHead):
    """The top of a script file, its stretches as they stand there."""

    stretch: Annotated[Sequence[Mapping[str, Any]], _TABLES] = Field(min_length=1)


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

    def planned(self) -> PlannedScript:
        """Return the script fully resolved, as the journal's header keeps it."""
        head = self.head
        return PlannedScript(
            name=head.name,
            file=self.file,
            about=head.about,
            not_after_s=head.not_after,
            confidence=head.confidence,
            blind_allowed=head.blind_allowed,
            longest_blind_s=head.longest_blind,
            listing=head.listing,
            beside=head.beside,
            stretches=tuple(
                PlannedStretch(
                    name=stretch.name,
                    lasts_s=stretch.lasts_s,
                    attended=stretch.attended,
                    plan=stretch.plan,
                    checks={
                        name: settings.model_dump(mode="json")
                        for name, settings in stretch.checks.items()
                    },
                )
                for stretch in self.stretches
            ),
        )

    def place(self, stretch: Stretch, fixture: Fixture, model_sheet: ModelSheet) -> Place:
        """Return where the checks of a stretch run."""
        return Place(
            stretch.name,
            fixture,
            model_sheet,
            confidence=self.head.confidence,
            blind_allowed=self.head.blind_allowed,
            longest_blind_s=self.head.longest_blind,
            plan=stretch.plan,
            attended=stretch.attended,
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
    if is_file(own):
        return own
    if name.endswith(".toml") or "/" in name:
        return Path(name)
    if name in shipped_scripts():
        return Path(str(_SHIPPED / f"{name}.toml"))
    known = [*shipped_scripts(), *(path.stem for path in own.parent.glob("*.toml"))]
    nearest = nearest_name(name, known)
    if nearest:
        raise ScriptError(name, "", msg("there is no such script"), nearest)
    sentence = msg("there is no such script; there are {known}", known=joined(", ", known))
    raise ScriptError(name, "", sentence)


def read_script(path: Path, checks: Mapping[str, type[Check]] | None = None) -> Script:
    """Read a script.

    Raises
    ------
    ScriptError
        If the file is missing, is not TOML, names an unknown check or setting, holds an impossible
        value or contradicts itself.
    """
    data = read_toml(path, ScriptError, msg("script"))
    # Where soak is installed is nobody's business and would change the seal from bench to bench.
    shipped = path.parent == Path(str(_SHIPPED))
    return script_from(data, path.name if shipped else str(path), checks or all_checks())


def script_from(data: Mapping[str, Any], file: str, checks: Mapping[str, type[Check]]) -> Script:
    """Check the content of a script file; see `read_script`."""
    wrong = Mistakes(file, ScriptError)
    top = wrong.checked(_File, data)
    head = ScriptHead.model_construct(
        **{key: value for key, value in vars(top).items() if key in ScriptHead.model_fields}
    )
    given = data.get("stretch")
    tables = enumerate(given, 1) if isinstance(given, list) else ()
    stretches = [
        _stretch(entry, f"stretch[{number}]", checks, wrong)
        for number, entry in tables
        if isinstance(entry, dict)
    ]
    _refuse_contradictions(wrong, head, stretches)
    wrong.tell()
    return Script(file, head, stretches)


def _stretch(
    entry: Mapping[str, Any], at: str, checks: Mapping[str, type[Check]], wrong: Mistakes
) -> Stretch:
    """Return a stretch as far as it is right; what is wrong of it contradicts nothing else."""
    before = len(wrong)
    tables = {key: value for key, value in entry.items() if isinstance(value, dict)}
    plan_table = tables.pop("plan", None)
    settings: Mapping[str, Settings] = {
        name: wrong.checked(checks[name].settings, value, f"{at}.{name}")
        for name, value in tables.items()
        if _is_check(name, at, checks, wrong)
    }
    plain = {key: one for key, one in entry.items() if not isinstance(one, dict)}
    for key in [key for key in plain if key in checks or key == "plan"]:
        what = msg("a check") if key in checks else msg("a table")
        wrong.add(f"{at}.{key}", msg("is {what}; write it as [stretch.{key}]", what=what, key=key))
        del plain[key]
    head = wrong.checked(StretchHead, plain, at)
    held = [name for name in settings if checks[name].holds_switch]
    if len(held) > 1:
        both = " and ".join(held)
        wrong.add(at, msg("{both} both hold the switch; put them into two stretches", both=both))
    plan = None
    lasts_s = getattr(head, "lasts", 0.0)
    ending = [name for name in settings if checks[name].ends_by_itself]
    if plan_table is not None:
        with wrong.gathered():
            plan, settings, lasts_s = planned(
                plan_table, at, settings, lasts_s=lasts_s, wrong=wrong
            )
            refuse_beside_hours(wrong.file, at, plan, ending)
    elif lasts_s == 0 and not ending and len(wrong) == before:
        wrong.add(f"{at}.lasts", msg("is missing; nothing else ends this stretch"))
    if not tables and plan_table is None and len(wrong) == before:
        wrong.add(
            at, msg("holds no check; add one of {checks}", checks=joined(", ", sorted(checks)))
        )
    attended: Any = getattr(head, "attended", None)  # None where what is written is neither
    return Stretch(getattr(head, "name", ""), lasts_s, attended, checks=settings, plan=plan)


def _is_check(name: str, at: str, checks: Mapping[str, type[Check]], wrong: Mistakes) -> bool:
    if name not in checks:
        what = msg(
            "there is no such check; the checks are {checks}", checks=joined(", ", sorted(checks))
        )
        wrong.add(f"{at}.{name}", what, nearest_name(name, list(checks)))
    return name in checks


def _refuse_contradictions(wrong: Mistakes, head: ScriptHead, stretches: Sequence[Stretch]) -> None:
    seen: set[str] = set()
    for number, stretch in enumerate(stretches, 1):
        if stretch.name in seen:
            at = f"stretch[{number}].name"
            wrong.add(
                at, msg("{name} is there twice; give it another name", name=repr(stretch.name))
            )
        seen |= {stretch.name} - {""}
        earlier = stretches[: number - 1]
        if stretch.attended and any(before.attended is False for before in earlier):
            at = f"stretch[{number}].attended"
            wrong.add(at, msg("comes after an unattended one; put it first"))
    shortest_s = sum(stretch.lasts_s for stretch in stretches)
    with wrong.gathered():
        if shortest_s > head.not_after:
            what = msg(
                "{not_after} is shorter than the stretches together; they last {shortest}",
                not_after=Amount(head.not_after, "s"),
                shortest=Amount(shortest_s, "s"),
            )
            wrong.add("not_after", what)


def script_again(resolved: PlannedScript) -> Script:
    """Return the script that a journal's header holds.

    Raises
    ------
    ScriptError
        If a check or setting of it is no longer known to this version.
    """
    file = resolved.file
    checks = all_checks()
    head = ScriptHead(
        name=resolved.name,
        about=resolved.about,
        not_after=resolved.not_after_s,
        confidence=resolved.confidence,
        blind_allowed=resolved.blind_allowed,
        longest_blind=resolved.longest_blind_s,
        listing=resolved.listing,
        beside=resolved.beside,
    )
    stretches = []
    wrong = Mistakes(file, ScriptError)
    for entry in resolved.stretches:
        settings = {
            name: wrong.checked(checks[name].settings, given, name)
            for name, given in entry.checks.items()
            if _is_check(name, entry.name, checks, wrong)
        }
        lasts_s = entry.lasts_s or 0.0
        stretches.append(
            Stretch(entry.name, lasts_s, entry.attended, checks=settings, plan=entry.plan)
        )
    wrong.tell()
    return Script(file, head, stretches)


def build_checks(
    script: Script, stretch: Stretch, fixture: Fixture, model_sheet: ModelSheet
) -> Sequence[Check]:
    """Return the stretch's checks, placed on a fixture."""
    place = script.place(stretch, fixture, model_sheet)
    checks = all_checks()
    return [checks[name](settings, place) for name, settings in stretch.checks.items()]


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
    return [replace(requirement, needs=requirement.needs | roles) for requirement in requirements]


def all_requirements(
    script: Script, fixture: Fixture, model_sheet: ModelSheet
) -> Sequence[Requirement]:
    """Return every requirement of a script on a fixture.

    Raises
    ------
    ScriptError
        If a check's settings contradict the fixture or model sheet.
    """
    requirements: dict[str, Requirement] = {}
    lasts_s: dict[str, float] = {}
    wrong = Mistakes(script.file, ScriptError)
    for stretch in script.stretches:
        checks = build_checks(script, stretch, fixture, model_sheet)
        lasts_s[stretch.name] = max([stretch.lasts_s, *(check.expected_s() for check in checks)])
        for check in checks:
            with wrong.gathered():
                for requirement in _kept_time(stretch, checks, check.requirements()):
                    if requirement.id in requirements:
                        wrong.add(requirement.id, msg("is demanded twice"))
                    requirements[requirement.id] = requirement
    wrong.tell()
    return fixed(requirements.values(), lasts_s, (DROPOUTS_PER_HOUR, SPARKLE_PER_HOUR))
