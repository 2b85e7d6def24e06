"""The JSON Schema of `report.json`, generated from the model."""

import json

from soak.report.model import Report


def schema_text() -> str:
    """Return the schema as the committed file holds it.

    References
    ----------
    JSON Schema, draft 2020-12.
    """
    schema = Report.model_json_schema(mode="serialization")
    head = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "report.json"}
    return json.dumps({**schema, **head}, indent=2, sort_keys=True, ensure_ascii=False) + "\n"
