"""The word a unit is sold under is one the bench can vouch for."""

import pytest

from soak.errors import UsageError
from soak.report.contents.context import CLAIMS


@pytest.mark.parametrize("claim", CLAIMS)
def test_each_claim_is_explained_on_the_report(claim, make_sheet):
    """The word and what it means stand together."""
    said = make_sheet(claim=claim).report.claim
    assert said.words == claim
    assert len(said.means) > 20


@pytest.mark.parametrize("claim", ["as new", "as good as new", "New", "mint"])
def test_a_claim_nobody_can_vouch_for_is_refused(claim, make_context):
    """One sentence that names the words to use instead."""
    with pytest.raises(UsageError, match="repaired and tested"):
        make_context(claim=claim)


def test_the_default_claim_is_repaired_and_tested(sheet):
    """Nobody has to choose a word to be honest."""
    assert sheet.report.claim.words == "repaired and tested"
