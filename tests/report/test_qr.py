"""QR codes hold what the standard says they hold, and the picture's code stays well below."""

import re

import pytest
import segno
from made_up_report import sheet_of

from soak.report.output.privacy import for_buyer
from soak.report.signing.sign import new_key
from soak.report.signing.token import proof

# ISO/IEC 18004, version 40: digits and alphanumeric characters by error level (from memory, and
# recomputed by the encoder: it takes each and refuses one more).
CAPACITY = {"L": (7089, 4296), "M": (5596, 3391), "Q": (3993, 2420), "H": (3057, 1852)}


@pytest.mark.parametrize("level", CAPACITY)
def test_the_largest_code_takes_what_the_standard_says_and_not_one_more(level):
    """Version 40 holds so many digits and letters at each level of error correction."""
    for sign, most in zip(("7", "A"), CAPACITY[level], strict=True):
        made = segno.make(sign * most, error=level, boost_error=False, micro=False)
        assert made.version == 40
        with pytest.raises(segno.DataOverflowError):
            segno.make(sign * (most + 1), error=level, boost_error=False, micro=False)


def test_the_smallest_and_largest_code_have_the_standards_size():
    """21 modules for version 1, 177 for version 40."""
    assert segno.make("1", version=1).symbol_size(border=0) == (21, 21)
    assert segno.make("1", version=40).symbol_size(border=0) == (177, 177)


def test_a_signed_code_is_small_enough_to_be_read_when_shrunk():
    """The signed token of a report fits a code of at most 65 modules (version 12)."""
    text = proof(for_buyer(sheet_of()).report, new_key()).qr
    assert segno.make(text, error="m", micro=False).version <= 12


def test_a_code_says_in_words_what_it_is_and_is_no_address():
    """Nothing that a phone could open: no scheme (RFC 3986, 3.1), but words a person reads."""
    text = proof(for_buyer(sheet_of()).report, new_key()).qr
    assert text.startswith("SOAK SIGNED REPORT ")
    assert re.match(r"[A-Za-z][A-Za-z0-9+.-]*:", text) is None
    assert segno.make(text, error="m", micro=False).mode == "alphanumeric"
