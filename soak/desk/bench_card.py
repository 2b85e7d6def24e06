"""Who vouches for what a bench says: the file `bench.toml` in its folder."""

import re
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import quote

from pydantic import Field, field_validator

from soak.desk.bench_folder import BenchFolder
from soak.errors import FixtureError
from soak.language import codes
from soak.outside import is_file
from soak.settings import Settings, checked, read_toml
from soak.words import msg

_ADDRESS = re.compile(r"https?://[!-\"$-~]+")
"""RFC 3986, 2: an address is of printable ASCII; its part after `#` is ours."""


class Bench(Settings):
    """Who vouches: the file `bench.toml` in the bench's folder.

    Attributes
    ----------
    name : str
        Name of the bench or workshop, as it stands on the report.
    address : str
        Its address, as it stands on the report.
    location : str
        Where the soaks are done, if elsewhere.
    authorised_by : str
        Who authorises reports.
    operator : str
        Initials of the one who works here, put to what is judged by hand; empty: asked for.
    calibrations : mapping of instrument to text
        How each instrument was calibrated, such as `"probe.heatsink" = "compared with ice
        and boiling water, 2026-01-05"`.
    grade_keeps_days : int
        Days that a unit may lie in store before it is checked again. The bench's own rule.
    report_address : str
        Where you put a unit's page, such as `"https://yard.example/{unit}.html"`; the code on
        picture and record then opens it. `{unit}` stands for the unit's tag. Empty: the code is for
        `soak verify` only.
    language : str
        The language of screens and questions, and of reports where none is given, such as "de";
        empty: that of the environment, and English reports.
    """

    name: str = Field(min_length=1)
    address: str = ""
    location: str = ""
    authorised_by: str = ""
    operator: str = Field(default="", max_length=20)
    calibrations: Mapping[str, str] = Field(default_factory=dict)
    grade_keeps_days: int = Field(default=90, ge=1, le=3650)
    report_address: str = Field(default="", max_length=80)
    language: str = ""

    @field_validator("report_address")
    @classmethod
    def _is_address(cls, address: str) -> str:
        if address and not _ADDRESS.fullmatch(address):
            raise ValueError(
                f"{address!r} is no address of a page: write https:// and the rest without blanks "
                "and #, such as https://yard.example/{unit}.html"
            )
        return address

    def address_of(self, tag: str) -> str:
        """Return where a unit's page is; empty if the bench names no place."""
        return self.report_address.replace("{unit}", quote(tag))

    @field_validator("language")
    @classmethod
    def _is_there(cls, code: str) -> str:
        if code and code not in codes():
            raise ValueError(f"{code!r} is no language of soak; there is {', '.join(codes())}")
        return code


_UNNAMED = Bench.model_construct(name="")


def read_bench(bench: BenchFolder) -> Bench:
    """Return who vouches; nobody's name where there is no file.

    Raises
    ------
    FixtureError
        If `bench.toml` is there and cannot be used.
    """
    file = bench.path / "bench.toml"
    if not is_file(file):
        return _UNNAMED
    return checked(Bench, read_toml(file, FixtureError, msg("bench file")), str(file), FixtureError)


def own_language(bench: Path) -> str:
    """Return the language that a bench's file names; empty if it names none, or cannot be used.

    Whoever needs the file tells what is wrong with it.
    """
    try:
        return read_bench(BenchFolder(bench)).language
    except FixtureError:
        return ""
