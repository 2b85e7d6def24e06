"""Headers for tests: parts told as JSON, as a journal holds them, become what the program reads."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from soak.checks.base import Place
from soak.derive.jobs_before import JobBefore, as_reference
from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.shape import read_as
from soak.frozen.sheet import ModelSheet
from soak.records import FORMAT, OF_HEADER, Header
from soak.run.plan import Wanted


def header_of(**told: Any) -> Header:
    """Return a header; each part may be told as JSON."""
    return Header(**_read(told))


def bare_header(**told: Any) -> Header:
    """Return a header that says nothing but what is told."""
    nothing: dict[str, Any] = {
        **{"format": FORMAT, "soak_id": "S-1", "job_id": "J-1", "unit": {}, "model_sheet": {}},
        **{"script": {}, "fixture": {}, "quantities": (), "requirements": (), "references": {}},
        **{"seed": 0, "simulated": False},
    }
    return header_of(**nothing | told)


def header_with(header: Header, **changes: Any) -> Header:
    """Return a header with other entries."""
    return replace(header, **_read(changes))


def fixture_of(told: Mapping[str, Any]) -> Fixture:
    """Return the fixture that a header would hold so."""
    return read_as(Fixture, told)


def sheet_of(told: Mapping[str, Any]) -> ModelSheet:
    """Return the model sheet that a header would hold so."""
    return read_as(ModelSheet, told)


def kept_jobs(jobs: Sequence[JobBefore]) -> References:
    """Return the references of a header that keep these jobs before."""
    return References(jobs_before=as_reference(jobs))


def placed(
    stretch: str, fixture: Mapping[str, Any], sheet: Mapping[str, Any], **more: Any
) -> Place:
    """Return where a check runs."""
    return Place(stretch, fixture_of(fixture), sheet_of(sheet), **more)


def wanted_of(
    soak_id: str, job_id: str, unit: Any, model_sheet: Any, fixture: Any, *more: Any
) -> Wanted:
    """Return what a plan is made from; each part may be told as JSON."""
    parts = _read({"unit": unit, "model_sheet": model_sheet, "fixture": fixture})
    references, seed, simulated = more
    return Wanted(
        soak_id=soak_id,
        job_id=job_id,
        **parts,
        **_read({"references": references}),
        seed=seed,
        simulated=simulated,
    )


def _read(told: Mapping[str, Any]) -> dict[str, Any]:
    return {
        key: read_as(OF_HEADER[key], value)
        if key in OF_HEADER and isinstance(value, Mapping)
        else value
        for key, value in told.items()
    }
