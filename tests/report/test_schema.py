"""The documented schema is that of the model."""

import json
from pathlib import Path

import pytest
from pydantic import ValidationError

from soak.report.model import Report
from soak.report.schema import schema_text

COMMITTED = Path(__file__).parents[2] / "docs" / "report-schema.json"


def test_the_committed_schema_is_not_stale():
    """docs/report-schema.json is what `soak.report.schema.schema_text()` gives."""
    assert COMMITTED.read_text(encoding="utf-8") == schema_text()


def test_every_key_of_a_report_is_in_the_schema(sheet):
    """A real report holds no key that the schema does not know, and all that it requires."""
    schema = json.loads(schema_text())
    said = json.loads(sheet.report.model_dump_json())
    assert set(said) == set(schema["properties"])
    assert schema["additionalProperties"] is False
    soak = schema["$defs"]["Soak"]
    assert set(soak["required"]) <= set(said["soaks"][0]) == set(soak["properties"])


def test_an_unknown_key_is_refused(sheet):
    """Strict both ways: the model does not take what the schema forbids."""
    assert Report.model_validate(dict(sheet.report)) == sheet.report
    with pytest.raises(ValidationError, match="extra"):
        Report.model_validate({**dict(sheet.report), "extra": 1})


def test_a_text_of_ours_that_is_no_message_is_refused(sheet):
    """Plain text would stand in English on every page, whatever its language."""
    with pytest.raises(ValidationError, match="is no message"):
        Report.model_validate({**dict(sheet.report), "shelf_life": "For a while."})
