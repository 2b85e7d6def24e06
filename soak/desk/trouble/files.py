"""The bench's own files and folder: what cannot be read, where nothing can be written."""

import os
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from shlex import quote

from soak.bench.host.access import Person
from soak.bench.model_sheet import read_model_sheet
from soak.bench.stick.mounts import mount_of, table
from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import BenchFolder
from soak.desk.forecast.explaining import EVERYTHING, planned_on, unnamed_model
from soak.desk.orders import drivers_for, read_any_fixture
from soak.desk.soaking.before_night import less_room_than, needed_bytes
from soak.desk.soaking.in_use import FOLDER
from soak.desk.trouble.found import Finding, Trouble, command
from soak.errors import SoakError
from soak.frozen.fixture import Fixture
from soak.outside import is_folder
from soak.run.script import Script, find_script, read_script
from soak.words import Message, msg

NIGHT = "overnight"
"""The script that a bench has which has none of its own."""


def read_fixtures(bench: BenchFolder) -> tuple[Sequence[Fixture], Sequence[Trouble]]:
    """Return the bench's fixtures that can be read, and what is wrong with the others."""
    fixtures: list[Fixture] = []
    troubles: list[Trouble] = []
    for file in _toml(bench.path / "fixtures"):
        try:
            fixture = read_any_fixture(file, None)
            drivers_for(fixture, 0)
        except SoakError as fault:
            troubles.append(_unread(fault, file))
        else:
            fixtures.append(fixture)
    return fixtures, troubles


def read_scripts(bench: BenchFolder) -> tuple[Sequence[Script], Sequence[Trouble]]:
    """Return the bench's scripts that can be read, with that of a night, and what is wrong."""
    scripts = [read_script(find_script(NIGHT, Path()))]
    troubles: list[Trouble] = []
    for file in _toml(bench.path / "scripts"):
        try:
            scripts.append(read_script(file))
        except SoakError as fault:
            troubles.append(_unread(fault, file))
    return scripts, troubles


def of_other_files(bench: BenchFolder) -> Iterator[Finding]:
    """Tell which model sheets cannot be read, and whether the bench's own file can."""
    reading: dict[Path, Callable[[], object]] = {
        file: partial(read_model_sheet, file) for file in _toml(bench.models)
    }
    reading[bench.path / "bench.toml"] = partial(read_bench, bench)
    for file, read in reading.items():
        try:
            read()
        except SoakError as fault:
            yield _unread(fault, file)


def of_the_folder(bench: BenchFolder, person: Person) -> Iterator[Finding]:
    """Tell where soak cannot write, or read: what a soak begun as another user left, too."""
    if not is_folder(bench.path):
        sentence = msg("{folder}: there is no such folder", folder=str(bench.path))
        yield Trouble(sentence, [msg("give the bench's folder: `soak --bench FOLDER trouble`")])
        return
    written = [bench.path, bench.ledger, bench.reports, bench.reports / FOLDER]
    for place in written:
        if place.exists() and not os.access(place, os.W_OK):
            sentence = msg("{folder}: nothing can be written there", folder=str(place))
            yield Trouble(sentence, [_writable(bench.path, person)])
            return
    for place in (bench.path / "fixtures", bench.models, bench.path / "scripts"):
        if is_folder(place) and not os.access(place, os.R_OK | os.X_OK):
            sentence = msg("{folder}: its files cannot be read", folder=str(place))
            yield Trouble(sentence, [_writable(bench.path, person)])
            return


def of_the_room(
    bench: BenchFolder, fixtures: Sequence[Fixture], scripts: Sequence[Script]
) -> Iterator[Finding]:
    """Tell whether the disk takes what one night on all fixtures at once may write."""
    real = [fixture for fixture in fixtures if not fixture.simulated] or [EVERYTHING]
    needed = sum(max(_most_bytes(script, fixture) for script in scripts) for fixture in real)
    if short := less_room_than(needed, bench.reports.absolute()):
        folder = quote(str(bench.path.resolve()))
        largest = command(f"du -xh --max-depth=2 {folder} | sort -h")
        yield Trouble(short, [msg("make room there; what takes most stands last:"), largest])


def _most_bytes(script: Script, fixture: Fixture) -> int:
    try:
        return needed_bytes(planned_on(fixture, script, unnamed_model(script)), fixture)
    except SoakError:
        return 0  # what does not fit together is told when it is ordered


def _toml(folder: Path) -> Sequence[Path]:
    try:
        return sorted(folder.glob("*.toml"))
    except PermissionError:
        return []  # told by `of_the_folder`


def _unread(fault: SoakError, file: Path) -> Trouble:
    return Trouble(fault.told, [msg("mend {file} as it says", file=str(file))])


def _writable(folder: Path, person: Person) -> Message:
    mount = mount_of(str(folder), table())
    says = os.statvfs(folder).f_flag if hasattr(os, "statvfs") else 0
    if mount is not None and says & os.ST_RDONLY:
        return command(f"sudo mount -o remount,rw {quote(mount.point)}")
    return command(f"sudo chown -R {person.name} {quote(str(folder.resolve()))}")
