"""The content answers every point that ISO/IEC 17025:2017, 7.8.2.1 asks of a report."""

import re

import pytest

# ISO/IEC 17025:2017, 7.8.2.1 a) to p); k) and p) may be answered by saying that there was none.
POINTS = {
    "a title": lambda said: said.title,
    "b name and address": lambda said: said.issuer.bench and said.issuer.address,
    "c location of performance": lambda said: said.issuer.location,
    "d unique identification": lambda said: said.report_id,
    "d clear end": lambda said: said.report_id in said.end,
    "e customer": lambda said: said.issuer.customer,
    "f method": lambda said: said.method.words and said.method.scripts and said.method.rules,
    "g description": lambda said: said.unit.model,
    "g identification": lambda said: said.unit.serial and said.unit.tag,
    "g condition": lambda said: said.unit.condition,
    "h date of receipt": lambda said: said.unit.received_on,
    "i dates of performance": lambda said: said.performed,
    "j date of issue": lambda said: said.issued_utc,
    "k sampling": lambda said: said.method.sampling,
    "l relates only": lambda said: "relate only to the item tested" in said.relates_only,
    "m results": lambda said: said.tested and all(one.found for one in said.tested),
    "n deviations": lambda said: said.deviations,
    "o authorised by": lambda said: said.issuer.authorised_by,
    "p from others": lambda said: said.from_others,
}


@pytest.mark.parametrize("point", POINTS)
def test_each_point_of_the_clause_is_answered(point, sheet):
    """A full context leaves no point blank."""
    assert POINTS[point](sheet.report)


@pytest.mark.parametrize("point", POINTS)
def test_each_point_is_answered_even_if_the_bench_gave_nothing(point, make_sheet):
    """What nobody gave is said to be missing instead of left out."""
    bare = make_sheet(
        address="", authorised_by="", received_on="", condition="", challenges=(), earlier_soaks=()
    )
    assert POINTS[point](bare.report)


def test_results_carry_their_measurement_units(sheet):
    """m) asks for units: the temperature's found, limit and margin each have one."""
    case = next(one for one in sheet.report.tested if one.check == "spots")
    assert (case.found, case.limit, case.margin) == (
        "54.8 °C",
        "at most 70.0 °C",
        "15.2 K to spare",
    )


def test_the_method_is_pinned_by_the_scripts_hash(sheet):
    """f) is unambiguous: the script's SHA-256, the rules' and the program's version."""
    assert re.search(r"SHA-256 [0-9a-f]{64}$", sheet.report.method.scripts[0])
    assert sheet.report.method.rules == "judging rules 4"
