"""What only people know of a job: `details/JOB.toml` in the bench's folder."""

from collections.abc import Sequence
from pathlib import Path

from pydantic import Field

from soak.desk.bench_folder import BenchFolder
from soak.errors import FixtureError
from soak.frozen.sheet import ModelSheet
from soak.mistakes import Mistakes, path_of
from soak.report.contents.context import SafetyTest
from soak.settings import Settings, nearest_name, read_toml
from soak.words import msg


class Safety(Settings):
    """An electrical safety test, done with a tester.

    Attributes
    ----------
    by : str
        Who tested.
    on : str
        Day of the test, such as `2026-01-04`.
    method : str
        The standard and the limits that were used.
    result : str
        What came of it, in words.
    """

    by: str = Field(min_length=1)
    on: str = Field(min_length=1)
    method: str = Field(min_length=1)
    result: str = Field(min_length=1)


class Details(Settings):
    """One job's details; what is left out is printed as not recorded or not done.

    Attributes
    ----------
    claim : str
        The word the unit is sold under; empty: `repaired and tested` with a repair on record, else
        `tested`.
    left_out : sequence of str
        Functions of the model sheet that the claim leaves out; counts for soaks begun after it was
        written.
    condition : str
        How it looks, in words; printed.
    received_on : str
        Day it came in, such as `2026-01-02`.
    customer : str
        Whom it was tested for.
    year_made : int or None
        Year this unit was made; takes the place of the model sheet's.
    recall_checked_on : str
        Day on which the maker's recalls were looked at.
    recall_result : str
        What the look at the maker's recalls found.
    known_defects : sequence of str
        What is wrong or missing and will be sold so.
    deviations : sequence of str
        What was done otherwise than the script says.
    show_serial : bool
        Print the full serial on the buyer's page and paper too.
    photographs : sequence of str
        Photographs that the pages show, each by what `soak unit photo --what` said it shows; look
        at each first: a type label shows the whole serial.
    safety_test : Safety or None
        An electrical safety test that was done with a tester; soak does none.
    """

    claim: str = ""
    left_out: Sequence[str] = ()
    condition: str = ""
    received_on: str = ""
    customer: str = ""
    year_made: int | None = Field(default=None, ge=1950, le=2100)
    recall_checked_on: str = ""
    recall_result: str = ""
    known_defects: Sequence[str] = ()
    deviations: Sequence[str] = ()
    show_serial: bool = False
    photographs: Sequence[str] = Field(default=(), max_length=8)
    safety_test: Safety | None = None

    def tested(self) -> SafetyTest | None:
        """Return the safety test as the report wants it."""
        safety = self.safety_test
        return SafetyTest(safety.by, safety.on, safety.method, safety.result) if safety else None


SKELETON = """\
# What only people know of this job. Take the sign # away, fill in; `soak report` takes it over.
# What stays out is printed as "not recorded" or "not done", as large as the rest.

# claim = "repaired and tested"    # or tested, repaired, reconditioned, refurbished, remanufactured
# left_out = ["sound"]             # key functions that are not claimed. Write it BEFORE the soak:
#                                  # the unit is then "ready, as far as tested", as all pages say
# condition = "light scratches on the lid"
# received_on = "2026-01-02"
# customer = "the bench's own stock"
# year_made = 2019
# recall_checked_on = "2026-01-03"
# recall_result = "none found"
# known_defects = ["the remote control is missing"]
# deviations = ["the lid was off during the attended part"]
# show_serial = false              # the listing picture never shows it
# photographs = ["before packing"] # of `soak unit photo`; look at each: a label shows the serial

# [safety_test]                    # an electrical safety test with a tester; soak does none
# by = "A. Tester"
# on = "2026-01-04"
# method = "the standard and limits used"
# result = "passed"
"""


def details_file(bench: BenchFolder, job_id: str) -> Path:
    """Return where a job's details stand."""
    return bench.path / "details" / f"{job_id}.toml"


def read_details(bench: BenchFolder, job_id: str, sheet: ModelSheet | None = None) -> Details:
    """Return a job's details; empty ones if nobody wrote any.

    Parameters
    ----------
    sheet : ModelSheet or None
        If given, what is left out must be functions of the model.

    Raises
    ------
    FixtureError
        If the file cannot be used.
    """
    file = details_file(bench, job_id)
    if not file.is_file():
        return Details()
    wrong = Mistakes(str(file), FixtureError)
    details = wrong.checked(Details, read_toml(file, FixtureError, msg("details file")))
    with wrong.gathered():
        for number, name in enumerate(details.left_out if sheet else ()):
            _claims_function(wrong, path_of("left_out", [number]), name, sheet)
    wrong.tell()
    return details


def _claims_function(wrong: Mistakes, key: str, name: str, sheet: ModelSheet | None) -> None:
    if sheet is not None and name not in sheet.functions:
        listed = ", ".join(sheet.functions) or "none"
        what = msg(
            "{model} has no function {name}; it has {listed}",
            model=sheet.model,
            name=repr(name),
            listed=listed,
        )
        wrong.add(key, what, nearest_name(name, list(sheet.functions)))


def left_out(bench: BenchFolder, job_id: str, sheet: ModelSheet) -> list[str]:
    """Return the functions that the claim leaves out, for the header of a soak that begins.

    Raises
    ------
    FixtureError
        If the details cannot be used, or name a function that the model sheet has not.
    """
    return sorted(set(read_details(bench, job_id, sheet).left_out))


def begin_details(bench: BenchFolder, job_id: str) -> Path:
    """Write the file to be filled in, unless it is there; return where it is."""
    file = details_file(bench, job_id)
    if not file.exists():
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(SKELETON, encoding="utf-8")
    return file
