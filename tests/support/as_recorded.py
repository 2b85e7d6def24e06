"""Evidence of a soak on stand-ins (pseudo-terminals, clips, folders), judged as on instruments.

The product says of such a soak that it shows nothing, and has no way to say otherwise. What the
judge makes of the records that real drivers wrote is tested with this: evidence whose header does
not tell what the instruments are, as headers did before that was looked at.
"""

from typing import Any

from headers import header_with

from soak.evidence import Evidence
from soak.judge.grade import judge
from soak.records import Header
from soak.rules.core.verdict import Judgement


def _untold(fixture: Any) -> Any:
    if isinstance(fixture, dict):
        return {key: _untold(value) for key, value in fixture.items() if key != "nature"}
    return fixture


class AsRecorded:
    """Evidence without what its instruments are."""

    def __init__(self, evidence: Evidence) -> None:
        self._evidence = evidence

    @property
    def header(self) -> Header:
        """The header, with fixtures as old programs wrote them."""
        header = self._evidence.header
        return header_with(header, fixture=_untold(header.fixture.as_json()))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._evidence, name)


def judged_as_recorded(evidence: Evidence) -> Judgement:
    """Judge one soak by its records alone."""
    return judge([AsRecorded(evidence)])


def verdicts_as_recorded(evidence: Evidence) -> dict[str, str]:
    """Return the verdicts of such a judgement by the requirement's id."""
    findings = judged_as_recorded(evidence).findings
    return {one.requirement.id: one.verdict.value for one in findings}
