import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from soak.measure.stick.pattern import Pattern
from soak.measure.stick.sectors import MOST_DETAILS, MOST_POSITIONS, NEARLY_BITS

PATTERN = Pattern(bytes(range(16)))
SECTORS = 12
PASS, OFFSET = 5, 8 * 4096
DATA = PATTERN.make(PASS, OFFSET, SECTORS * 512)


def flip(sector: bytes, positions) -> bytes:
    """Flip bits by their place in the sector, bit 0 the lowest of byte 0."""
    changed = bytearray(sector)
    for place in positions:
        changed[place // 8] ^= 1 << (place % 8)
    return bytes(changed)


bit_places = st.integers(0, 4095)
few_bits = st.sets(bit_places, max_size=NEARLY_BITS)
faults = st.one_of(
    st.just(("right",)),
    st.tuples(st.just("flipped"), st.sets(bit_places, min_size=1, max_size=30)),
    st.tuples(st.just("wrong address"), st.integers(1, 2**30), st.sets(bit_places, max_size=8)),
    st.tuples(st.just("earlier pass"), st.integers(1, PASS - 1), st.sets(bit_places, max_size=8)),
    st.tuples(st.just("zeros"), few_bits),
    st.tuples(st.just("ones"), few_bits),
    st.tuples(st.just("foreign"), st.integers(0, 2**32 - 1)),
    st.tuples(st.just("torn"), st.integers(1, 31), st.integers(0, 2**32 - 1)),
    st.tuples(st.just("half written"), st.integers(1, 31), st.integers(1, PASS - 1)),
    st.tuples(st.just("stuck"), st.integers(0, 7), st.integers(0, 1)),
)
NAMES = {"half written": "torn", "stuck": "flipped"}
"""What is told of a fault where that is not its own name."""


def injected(fault, number: int) -> bytes:
    """Return sector `number` of the data with one fault."""
    sector, place = DATA[number * 512 :][:512], OFFSET + number * 512
    match fault:
        case ("flipped", bits):
            return flip(sector, bits)
        case ("wrong address", off, bits):
            return flip(PATTERN.make(PASS, place + off * 512, 512), bits)
        case ("earlier pass", earlier, bits):
            return flip(PATTERN.make(earlier, place, 512), bits)
        case ("zeros", bits):
            return flip(bytes(512), bits)
        case ("ones", bits):
            return flip(b"\xff" * 512, bits)
        case ("foreign", seed):
            return np.random.default_rng(seed).bytes(512)
        case ("torn", blocks, seed):
            return sector[: blocks * 16] + np.random.default_rng(seed).bytes(512 - blocks * 16)
        case ("half written", blocks, earlier):
            return sector[: blocks * 16] + PATTERN.make(earlier, place, 512)[blocks * 16 :]
        case ("stuck", bit, level):
            return bytes(one | 1 << bit if level else one & ~(1 << bit) for one in sector)
    return sector


def line_of(mix) -> str:
    """Return which data line stands still, as all injected flips say together."""
    lines = {fault[1:] for fault in mix if fault[0] == "stuck"}
    scattered = any(fault[0] == "flipped" for fault in mix)
    return "" if scattered or len(lines) != 1 else "bit {} stands at {}".format(*lines.pop())


@given(st.lists(faults, min_size=SECTORS, max_size=SECTORS), st.integers(0, SECTORS * 512))
@settings(max_examples=300)
def test_any_mix_of_faults_is_classified_exactly_as_injected(mix, came_bytes):
    """Counts, damaged bytes and details are those of the faults that were put in."""
    whole = b"".join(injected(fault, number) for number, fault in enumerate(mix))
    received = whole[:came_bytes]
    counts = PATTERN.examine(received, PASS, OFFSET, len(DATA))
    complete = came_bytes // 512
    kinds = [NAMES.get(fault[0], fault[0]) for fault in mix[:complete]] + ["short"] * (
        SECTORS - complete
    )
    wanted = {kind: kinds.count(kind) for kind in set(kinds) - {"right"}}
    assert dict(counts.wrong) == wanted
    assert counts.right == kinds.count("right")
    came = sum(a != b for a, b in zip(received, DATA, strict=False))
    assert counts.damaged_bytes == came + len(DATA) - came_bytes
    assert counts.stuck == line_of(mix[:complete])
    flipped = [
        np.unpackbits(
            np.frombuffer(whole[n * 512 :][:512], np.uint8)
            ^ np.frombuffer(DATA[n * 512 :][:512], np.uint8)
        ).sum()
        for n, fault in enumerate(mix[:complete])
        if fault[0] in ("flipped", "stuck")
    ]
    assert sum(counts.up_bits + counts.down_bits) == sum(flipped)
    by_place = {one.offset_bytes: one for one in counts.details}
    for number, fault in enumerate(mix[:complete]):
        one = by_place.get(OFFSET + number * 512)
        if one is None:
            continue
        assert one.kind == NAMES.get(fault[0], fault[0])
        if fault[0] == "half written":
            assert one.found == (fault[2], OFFSET + number * 512)
        if fault[0] == "flipped":
            assert one.flipped_bits == len(fault[1])
            assert list(one.positions) == sorted(fault[1])[:MOST_POSITIONS]
        if fault[0] == "wrong address":
            assert one.found == (PASS, OFFSET + number * 512 + fault[1] * 512)
        if fault[0] == "earlier pass":
            assert one.found == (fault[1], OFFSET + number * 512)


def test_details_are_capped_and_counts_are_not():
    """A chunk full of zeros keeps every sector in the count and only the first in the details."""
    counts = PATTERN.examine(bytes(64 * 512), 1, 0)
    assert counts.wrong == {"zeros": 64}
    assert len(counts.details) == MOST_DETAILS


@pytest.mark.parametrize(("bit", "level"), [(0, 0), (3, 1), (7, 1)])
def test_a_data_line_that_stands_still_is_named(bit, level):
    """A line stuck at one level spoils every block, and still is told as flips on that one line."""
    sent = np.frombuffer(PATTERN.make(1, 0, 4096), np.uint8)
    stuck = sent | (1 << bit) if level else sent & ~np.uint8(1 << bit)
    counts = PATTERN.examine(stuck.astype(np.uint8).tobytes(), 1, 0)
    assert counts.wrong == {"flipped": 8}
    assert counts.stuck == f"bit {bit} stands at {level}"
    assert sum(counts.up_bits + counts.down_bits) == int(np.bitwise_count(sent ^ stuck).sum())


def test_scattered_flips_name_no_line():
    """Flips on several lines are no stuck line, however many there are."""
    changed = flip(DATA, range(0, len(DATA) * 8, 517))
    assert PATTERN.examine(changed, PASS, OFFSET).stuck == ""


def test_an_address_line_that_wraps_is_told_by_where_the_data_belongs():
    """A medium that repeats after 1 MiB returns the data of 1 MiB further, place by place."""
    counts = PATTERN.examine(PATTERN.make(2, 1 << 20, 8 * 512), 2, 0)
    assert counts.wrong == {"wrong address": 8}
    assert [one.found.offset_bytes - one.offset_bytes for one in counts.details] == [1 << 20] * 8


@pytest.mark.parametrize("wrong", ["zeros", "foreign"])
def test_a_wholly_wrong_chunk_costs_no_more_than_a_fifth_of_a_second(wrong):
    """4 MiB that are all wrong must not hold up what else runs in the loop."""
    size = 4 << 20
    got = bytes(size) if wrong == "zeros" else np.random.default_rng(1).bytes(size)
    best_s = min(_examined_s(got) for _ in range(3))
    assert best_s < 0.2


def _examined_s(got: bytes) -> float:
    begin_s = time.process_time()
    PATTERN.examine(got, 1, 0)
    return time.process_time() - begin_s
