"""The sheet of an invented night, and what makes others like it."""

from collections.abc import Callable

import pytest
from made_up_report import Night, context, judged, night, sheet_of

from soak.report.contents.context import ReportContext
from soak.report.contents.sheet import Sheet
from soak.rules.core.verdict import Judgement


@pytest.fixture(scope="session")
def sheet() -> Sheet:
    return sheet_of()


@pytest.fixture
def make_night() -> Callable[..., Night]:
    return night


@pytest.fixture
def make_judgement() -> Callable[..., Judgement]:
    return judged


@pytest.fixture
def make_context() -> Callable[..., ReportContext]:
    return context


@pytest.fixture
def make_sheet() -> Callable[..., Sheet]:
    return sheet_of
