"""A model sheet by itself: a new one, or what one that is there leaves open."""

from pathlib import Path

from soak.desk.beginning.asking import Asking, broken_off
from soak.desk.beginning.describing import (
    asked_again,
    described,
    file_name,
    known_models,
    left_open,
)
from soak.desk.beginning.which import like_sheet
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file, read_any_fixture
from soak.errors import UsageError
from soak.frozen.fixture import Fixture
from soak.journal.durable import write_durable
from soak.words import Message, joined, lines_of, msg


def write_sheet(bench_path: Path, model: str, asking: Asking) -> Message:
    """Ask for a sheet's answers and write it; return what was written and what stays open.

    Raises
    ------
    UsageError, FixtureError
        Before anything is written.
    """
    bench = BenchFolder(bench_path)
    known = known_models(bench)
    name = file_name(model)
    if not name:
        raise UsageError(msg("a model's name is needed, as on the type label"))
    with broken_off():
        if name in known:
            sheet = asked_again(asking, bench, known[name])
        else:
            like = like_sheet(asking.given("--like"), known)
            sheet = described(asking, bench, model.strip(), like, _wired(bench, asking))
    file = bench.models / f"{sheet.name}.toml"
    file.parent.mkdir(parents=True, exist_ok=True)
    write_durable(file, sheet.text.encode())
    points = left_open(sheet.sheet)
    stays = msg("it leaves nothing open that is asked here")
    if points:
        stays = msg("open: {points}", points=joined("; ", points))
    return lines_of([msg("{file}: written", file=str(file)), stays])


def _wired(bench: BenchFolder, asking: Asking) -> Fixture | None:
    """Return the fixture that says which ports and spots there are at least."""
    named = asking.given("--fixture")
    if named:
        return read_any_fixture(fixture_file(bench, Path(named)), None)
    files = [*(bench.path / "fixtures").glob("*.toml")]
    return read_any_fixture(files[0], None) if len(files) == 1 else None
