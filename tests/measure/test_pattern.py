import numpy as np
import pytest
from cryptography.hazmat.primitives.ciphers import Cipher, algorithms, modes
from hypothesis import given, settings
from hypothesis import strategies as st

from soak.measure.stick.pattern import LAST_PASS, Pattern

# NIST SP 800-38A (2001), appendix F.5.1, CTR-AES128.Encrypt: key, first counter, and the four
# output blocks, which are the key stream itself. The vectors are from memory; the library's
# agreement with them was computed here.
F51_KEY = bytes.fromhex("2b7e151628aed2a6abf7158809cf4f3c")
F51_COUNTER = bytes.fromhex("f0f1f2f3f4f5f6f7f8f9fafbfcfdfeff")
F51_PLAIN = bytes.fromhex(
    "6bc1bee22e409f96e93d7e117393172aae2d8a571e03ac9c9eb76fac45af8e51"
    "30c81c46a35ce411e5fbc1191a0a52eff69f2445df4f9b17ad2b417be66c3710"
)
F51_CIPHER = bytes.fromhex(
    "874d6191b620e3261bef6864990db6ce9806f66b7970fdff8617187bb9fffdff"
    "5ae4df3edbd5d35e5b4f09020db03eab1e031dda2fbe03d1792170a0f3009cee"
)
# FIPS 197 (2001), appendix C.1: one block under the plain cipher (from memory, checked likewise).
C1_KEY = bytes(range(16))
C1_PLAIN = bytes.fromhex("00112233445566778899aabbccddeeff")
C1_CIPHER = bytes.fromhex("69c4e0d86a7b0430d8cdb78070b4c55a")

KEY = bytes(range(16))


def test_counter_mode_of_the_library_gives_the_published_vectors():
    """The library under the pattern enciphers the four blocks of SP 800-38A F.5.1 as printed."""
    encryptor = Cipher(algorithms.AES128(F51_KEY), modes.CTR(F51_COUNTER)).encryptor()
    assert encryptor.update(F51_PLAIN) == F51_CIPHER


def test_pattern_is_the_published_key_stream_where_counters_coincide():
    """Pattern and vectors agree: F.5.1's first output block is E(counter) for its counter."""
    first = int.from_bytes(F51_COUNTER[:8]), int.from_bytes(F51_COUNTER[8:])
    stream = bytes(a ^ b for a, b in zip(F51_PLAIN[:16], F51_CIPHER[:16], strict=True))
    decryptor = Cipher(algorithms.AES128(F51_KEY), modes.ECB()).decryptor()
    assert decryptor.update(stream) == first[0].to_bytes(8) + first[1].to_bytes(8)


def test_one_block_of_the_pattern_is_the_plain_cipher_of_pass_and_index():
    """Each block is the cipher of (pass, index), as FIPS 197 C.1 fixes the cipher."""
    encryptor = Cipher(algorithms.AES128(C1_KEY), modes.ECB()).encryptor()
    assert encryptor.update(C1_PLAIN) == C1_CIPHER
    made = Pattern(C1_KEY).make(7, 1024, 512)
    counter = (7).to_bytes(8) + (1024 // 16 + 3).to_bytes(8)
    assert made[48:64] == encryptor.update(counter)


@given(st.integers(1, LAST_PASS), st.integers(0, 2**40), st.integers(0, 5), st.integers(0, 5))
@settings(max_examples=60)
def test_data_depends_on_pass_and_place_only(number, sector, before, after):
    """A piece is the same whether made alone or as part of a longer one."""
    pattern = Pattern(KEY)
    start = sector * 512
    longer = pattern.make(number, start, (before + 1 + after) * 512)
    alone = pattern.make(number, start + before * 512, 512)
    assert longer[before * 512 : (before + 1) * 512] == alone


@given(st.integers(1, LAST_PASS), st.integers(0, 2**43 - 1))
@settings(max_examples=60)
def test_a_sector_says_its_pass_and_place_by_itself(number, sector):
    """Deciphering a sector yields the pass and the place it was made for."""
    label = Pattern(KEY).whose(Pattern(KEY).make(number, sector * 512, 512))
    assert label == (number, sector * 512)


def test_another_soaks_data_says_nothing():
    """Under another key no block is taken for one of ours."""
    data = Pattern(bytes(16)).make(1, 0, 1 << 20)
    passes, offsets = Pattern(KEY).labels(data)
    assert (passes == -1).all()
    assert (offsets == -1).all()


@pytest.mark.parametrize(
    ("number", "offset", "length"),
    [(0, 0, 512), (LAST_PASS + 1, 0, 512), (1, 100, 512), (1, -512, 512), (1, 0, -1)],
)
def test_impossible_places_are_refused(number, offset, length):
    """A pass or place that the counter cannot hold raises instead of wrapping around."""
    with pytest.raises(ValueError, match=r"pass|begin at a sector|length"):
        Pattern(KEY).make(number, offset, length)


def test_a_key_of_another_length_is_refused():
    """Only AES-128 keys are taken."""
    with pytest.raises(ValueError, match="16"):
        Pattern(b"short")


@given(st.integers(1, 1200), st.integers(0, 1200 * 512 - 1), st.integers(0, 7))
@settings(max_examples=40)
def test_one_wrong_bit_anywhere_is_never_overlooked(sectors, place, bit):
    """The quick comparison, piece by piece, misses no bit at any place of any length."""
    data = bytearray(Pattern(KEY).make(1, 512, sectors * 512))
    assert Pattern(KEY).examine(bytes(data), 1, 512).right == sectors
    data[place % len(data)] ^= 1 << bit
    counts = Pattern(KEY).examine(bytes(data), 1, 512)
    assert counts.wrong == {"flipped": 1}
    assert counts.details[0].offset_bytes == 512 + place % len(data) // 512 * 512


def test_right_data_counts_every_sector_right():
    """Data as made has no wrong sector and no damaged byte."""
    data = Pattern(KEY).make(3, 4096, 1 << 20)
    counts = Pattern(KEY).examine(data, 3, 4096)
    assert (counts.sectors, counts.right, counts.wrong, counts.damaged_bytes) == (2048, 2048, {}, 0)


def test_more_than_was_asked_for_is_refused():
    """A longer answer than the question is a fault of the caller."""
    with pytest.raises(ValueError, match="asked for"):
        Pattern(KEY).examine(bytes(1024), 1, 0, 512)


def test_bytes_of_the_pattern_look_like_noise():
    """Ones are half of all bits within 5 standard deviations (binomial, common practice)."""
    data = np.frombuffer(Pattern(KEY).make(1, 0, 1 << 20), np.uint8)
    ones, bits = int(np.bitwise_count(data).sum()), data.size * 8
    assert abs(ones - bits / 2) < 5 * (bits / 4) ** 0.5
