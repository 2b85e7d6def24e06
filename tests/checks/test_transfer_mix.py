"""Any mix of what can come of a chunk is told as it was injected, and every one is counted."""

import errno
from collections import Counter

import numpy as np
import trio
from hypothesis import given, settings
from hypothesis import strategies as st
from scripted_stick import CHUNK, SIZE, BenchOfOneStick, ScriptedStick, marks, place, states, values

from soak.checks.base import Done
from soak.checks.transfer import MOST_MARKS, THE_CHECK, TransferSettings
from soak.clock import LeapingClock
from soak.measure.stick.pattern import Pattern
from soak.roles import Transfer

SECTORS = CHUNK // 512
PATTERN = Pattern(np.random.default_rng(1).bytes(16))  # the check draws its key from the same seed

bad_sectors = st.dictionaries(
    st.integers(0, SECTORS - 1),
    st.sampled_from(["flipped", "zeros", "ones", "wrong address", "foreign"]),
    min_size=1,
    max_size=12,
)
answers = st.one_of(
    st.just(("right",)),
    st.tuples(st.just("sectors"), bad_sectors),
    # Not in the first block of all: where that and the middle cannot be read the stick is gone.
    st.tuples(
        st.just("unreadable"),
        st.sampled_from([errno.EIO, errno.ENODATA, errno.EREMOTEIO]),
        st.sets(st.integers(8, SECTORS - 1), max_size=4),
    ),
    st.tuples(st.just("short"), st.integers(0, SECTORS - 1)),
    st.just(("gone",)),
    st.just(("stalls",)),
)


def spoilt(data, offset, sectors):
    """Return a chunk with these sectors wrong."""
    changed = bytearray(data)
    for number, kind in sectors.items():
        at = slice(number * 512, number * 512 + 512)
        if kind == "flipped":
            changed[number * 512 + 100] ^= 0x10
        elif kind in ("zeros", "ones"):
            changed[at] = (b"\0" if kind == "zeros" else b"\xff") * 512
        elif kind == "foreign":
            changed[at] = np.random.default_rng(number).bytes(512)
        else:
            changed[at] = PATTERN.make(1, offset + number * 512 + (1 << 30), 512)
    return bytes(changed)


class MixedStick(ScriptedStick):
    """A stick each of whose chunks, once written, comes to what was drawn for it.

    It goes, or stalls, once only, and is well before and afterwards.
    """

    def __init__(self, clock, mix):
        super().__init__(clock)
        self.mix, self.told, self.damaged_bytes = mix, Counter(), 0
        self.once, self.away_until_s = set(), 0.0

    async def read_at(self, offset, length):
        written = len(self.writes) == SIZE // CHUNK
        answer = self.mix[offset // CHUNK] if written else ("right",)
        if length < CHUNK and answer[0] != "unreadable":
            answer = ("right",)
        if answer[0] in ("gone", "stalls") and offset not in self.once:
            self.once.add(offset)
            if answer[0] == "stalls":
                await trio.sleep(30.0)
                return Transfer(None, 30.0, errno.ETIMEDOUT, "direct")
            self.away_until_s = self.clock.now_s() + 5.0
        if self.clock.now_s() < self.away_until_s:
            await trio.sleep(0.01)
            return Transfer(None, 0.01, errno.ENODEV, "direct")
        came = await super().read_at(offset, length)
        return self._as_drawn(came, offset, length, answer)

    def _as_drawn(self, came, offset, length, answer):
        match answer:
            case ("unreadable", number, sectors):
                first, whole = offset % CHUNK // 512, length == CHUNK
                if whole:
                    self.told["unreadable" if sectors else "failed once"] += len(sectors) or 1
                    self.damaged_bytes += 512 * (len(sectors) or 1)
                if sectors.intersection(range(first, first + length // 512)) or whole:
                    return Transfer(None, came.took_s, number, "direct")
            case ("short", sectors):
                self.told["short"] += SECTORS - sectors
                self.damaged_bytes += CHUNK - sectors * 512
                return Transfer(came.data[: sectors * 512], came.took_s, None, "direct")
            case ("sectors", sectors):
                data = spoilt(came.data, offset, sectors)
                self.told.update(sectors.values())
                self.damaged_bytes += sum(a != b for a, b in zip(data, came.data, strict=True))
                return Transfer(data, came.took_s, None, "direct")
        return came


@given(st.lists(answers, min_size=SIZE // CHUNK, max_size=SIZE // CHUNK), st.booleans())
@settings(max_examples=40)
def test_any_mix_of_answers_is_told_and_counted_as_injected(mix, for_long):
    """Sectors of each kind, wrong bytes, leavings and stalls add up, beyond all caps too."""
    clock, said = LeapingClock(), []
    stick = MixedStick(clock, mix)
    given = TransferSettings(chunk_bytes=CHUNK, pause_s=1.0, write_every_s=1e6)

    async def main():
        stalled_s = 30.0 * sum(answer == ("stalls",) for answer in mix)
        with trio.move_on_after((400.0 if for_long else 60.0) + stalled_s):
            await THE_CHECK(given, place()).measure(
                BenchOfOneStick(clock, stick), Done(), said.append
            )

    trio.run(main, clock=clock)
    told = Counter()
    for detail in marks(said, "chunk"):
        told.update(detail["kinds"])
    assert told == stick.told
    assert sum(values(said, "damaged")) == stick.damaged_bytes
    kinds = Counter(answer[0] for answer in mix)
    assert len(marks(said, "reconnected")) == kinds["gone"]
    known = [state.state for state in states(said)]
    assert known[0::2] == ["seen"] * (1 + kinds["gone"] + kinds["stalls"])
    assert Counter(known[1::2]) == Counter(gone=kinds["gone"], stalled=kinds["stalls"])
    assert sum(took_s >= 30.0 for took_s in values(said, "chunk_s")) == kinds["stalls"]
    one_by_one = [detail for detail in marks(said, "chunk") if "chunks" not in detail]
    assert len(one_by_one) <= MOST_MARKS
