"""What counts as lost where no demand says otherwise: read from the header once, or told."""

import pytest
from headers import header_with
from made_up_soak import clean_night, demand

from soak.errors import JournalError
from soak.judge.grade import judge


def night(**told):
    """Return a night whose header says these terms."""
    soak = clean_night().demanding(demand("no dropout", "capture"))
    soak.header = header_with(soak.header, terms=told)
    return soak


@pytest.mark.parametrize(
    ("told", "key"),
    [
        ({"at_least_s": "much"}, "at_least_s"),
        ({"start_limit_s": "x"}, "start_limit_s"),
        ({"bad": 5}, "bad"),
        ({"new": 1}, "new"),
    ],
)
def test_terms_that_cannot_be_read_are_told_in_one_sentence(told, key):
    """A header of another program version is no traceback, and no key of it is passed over."""
    with pytest.raises(JournalError, match=key) as fault:
        judge([night(**told)])
    assert "\n" not in str(fault.value)
    assert "update soak" in str(fault.value)


def test_a_header_without_terms_leaves_all_to_the_model_sheet():
    """What nobody stated is as the model sheet and the defaults have it."""
    assert judge([night()]).ready
