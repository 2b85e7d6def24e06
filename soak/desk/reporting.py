"""Write the report of a job: what the journal does not know comes from `bench.toml`."""

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from pydantic import Field

from soak import __version__
from soak.desk.bench_folder import BenchFolder
from soak.desk.challenges import challenges_of
from soak.desk.grading import Graded
from soak.errors import FixtureError
from soak.ledger.ledger import Ledger
from soak.report.content import gather
from soak.report.context import EarlierSoak, ReportContext, SafetyTest
from soak.report.files import ReportFiles, write_report
from soak.settings import Settings, checked, read_toml


class Bench(Settings):
    """Who vouches: the file `bench.toml` in the bench's folder.

    Attributes
    ----------
    name, address : str
        As they stand on the report.
    location : str
        Where the soaks are done, if elsewhere.
    authorised_by : str
        Who authorises reports.
    calibrations : mapping of instrument to text
        `"probe.heatsink" = "compared with ice and boiling water, 2026-01-05"`.
    """

    name: str = Field(min_length=1)
    address: str = ""
    location: str = ""
    authorised_by: str = ""
    calibrations: Mapping[str, str] = Field(default_factory=dict)


_UNNAMED = Bench(name="unnamed bench (write bench.toml)")


def read_bench(bench: BenchFolder) -> Bench:
    """Return who vouches.

    Raises
    ------
    FixtureError
        If `bench.toml` is there and cannot be used.
    """
    file = bench.path / "bench.toml"
    if not file.is_file():
        return _UNNAMED
    return checked(Bench, read_toml(file, FixtureError, "bench file"), str(file), FixtureError)


def write_reports(
    bench: BenchFolder,
    ledger: Ledger,
    graded: Graded,
    folder: Path,
    *,
    issued: datetime | None = None,
    claim: str = "repaired and tested",
    safety_test: SafetyTest | None = None,
) -> ReportFiles:
    """Write bench page, buyer's page and JSON into the soak's folder."""
    card, header = read_bench(bench), graded.soaks[-1].header
    lines = [line for line in ledger.soaks(header.unit["tag"]) if line.job_id == header.job_id]
    context = ReportContext(
        bench=card.name,
        address=card.address,
        location=card.location,
        authorised_by=card.authorised_by,
        issued_utc=(issued or datetime.now(UTC)).strftime("%Y-%m-%dT%H:%M:%SZ"),
        version=__version__,
        claim=claim,
        safety_test=safety_test,
        earlier_soaks=[
            EarlierSoak(line.soak_id, line.script, line.grade, line.on.isoformat())
            for line in lines
            if line.soak_id != header.soak_id
        ],
        challenges=challenges_of(header.references),
        calibrations=card.calibrations,
    )
    return write_report(gather(graded.judgement, graded.soaks, context), folder)
