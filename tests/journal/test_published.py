"""The journal's foundations against published values."""

import hashlib

import pytest

from soak.journal.rows import FIRST_LINK, Chain, event_of, link_after
from soak.records import Mark, canonical_json

FIPS_180_4 = {
    b"abc": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
    b"": "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq": (
        "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
    ),
}

RFC_8785 = {
    "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
    "string": '€$\x0f\nA\'B"\\\\"/',
    "literals": [None, True, False],
}


@pytest.mark.parametrize(("message", "digest"), FIPS_180_4.items())
def test_the_hash_of_the_chain_is_sha_256(message: bytes, digest: str) -> None:
    """Examples of the Secure Hash Standard, FIPS 180-4."""
    assert hashlib.sha256(message).hexdigest() == digest


def test_records_are_written_as_rfc_8785_has_it() -> None:
    """Sample of RFC 8785, section 3.2.2, and the SHA-256 of its canonical form."""
    written = canonical_json(RFC_8785)
    assert hashlib.sha256(written).hexdigest() == (
        "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb"
    )


def test_a_link_is_the_hash_of_the_link_before_and_the_row() -> None:
    """The chain can be checked by anybody: the SHA-256 of these bytes, put together by hand."""
    body = b'{"check":"","detail":{"on":true},"stretch":"","t_s":2,"what":"power"}'
    (row,) = Chain(()).rows([event_of(Mark(2.0, "power", detail={"on": True}))])
    assert row[:4] == (1, 1, "mark", body)
    assert row.link == hashlib.sha256(bytes(32) + b"mark 1 1\n" + body).digest()
    assert row.link == link_after(FIRST_LINK, 1, 1, "mark", body)
