"""QR codes hold what the standard says they hold, and the picture's code stays well below."""

import re

import cv2
import numpy as np
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


def test_a_code_with_an_address_opens_it_and_is_signed_all_the_same():
    """A phone goes to the bench's page; what follows `#` is the signed report, as without."""
    from soak.desk.bench_card import Bench
    from soak.desk.trust.qr import read_qr
    from soak.report.output.listing import qr_png
    from soak.report.signing.token import told

    card = Bench(name="Yard", report_address="https://yard.example/{unit}.html")
    key = new_key()
    report = for_buyer(sheet_of()).report
    text = proof(report, key, card.address_of("K 1")).qr
    assert text.startswith("https://yard.example/K%201.html#")
    said = told(text)
    said.check(key.public)
    assert said.key == key.public
    assert said.particulars.report == report.report_id[:24]
    small = cv2.imdecode(np.frombuffer(qr_png(text), np.uint8), cv2.IMREAD_GRAYSCALE)
    big = cv2.resize(small, None, fx=6, fy=6, interpolation=cv2.INTER_NEAREST)
    assert read_qr(cv2.imencode(".png", big)[1].tobytes()) == text


@pytest.mark.parametrize(
    "address", ["yard.example", "ftp://yard.example", "https://a b", "https://a#b"]
)
def test_an_address_that_no_phone_opens_is_refused(address):
    """One sentence with an example."""
    from pydantic import ValidationError

    from soak.desk.bench_card import Bench

    with pytest.raises(ValidationError, match=r"no address of a page|report_address"):
        Bench(name="Yard", report_address=address)
