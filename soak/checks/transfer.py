"""Transfer: data that names its own place crosses the unit's port, over and over."""

import errno
from collections.abc import Awaitable, Callable, Sequence
from typing import Any, ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.errors import BenchFault
from soak.measure.passes import Passes
from soak.measure.pattern import SECTOR_BYTES, Pattern
from soak.measure.stick_states import LEFT, NO_WRITING, StickStates, in_words
from soak.measure.transfer_log import TransferLog
from soak.quantities import Quantity, show_bytes, show_duration
from soak.records import Mark, Requirement, Role, State
from soak.roles import Stick, Transfer
from soak.settings import Bytes, Seconds, Settings

STICK = "stick"
MOST_MARKS = 200
"""So many wrong chunks are described one by one; after that one description a pass."""

_TRY_AGAIN_S = 1.0


class TransferSettings(Settings):
    """Settings of the check `transfer`; times in s, sizes in B.

    Attributes
    ----------
    size_bytes : int
        How much of the stick is used; 0: all that the fixture allows.
    chunk_bytes : int
        Data crosses in pieces of this size.
    write_budget_bytes : int
        So much is written in this stretch, then only read: writing wears a stick out.
    write_every_s : float
        Between two passes of writing only reading, so that the budget lasts.
    pause_s, rest_s : float
        Pause after each chunk, and after each pass of reading.
    look_s : float
        In a pause, and while the stick is gone, it is looked for so often.
    readings_every_s : float
        Readings come at most so often; wrong bytes and stalls at once.
    stall_s : float
        No transfer may take longer.
    keep_speed : float
        Share of the first speed that reading must keep.
    first_s : float
        The first speed is the median over so long.
    damaged_bytes : int
        Wrong bytes allowed.
    """

    size_bytes: Bytes = Field(default=0, ge=0)
    chunk_bytes: Bytes = Field(default=4 << 20, ge=4096, le=64 << 20, multiple_of=4096)
    write_budget_bytes: Bytes = Field(default=250_000_000, ge=4096)
    write_every_s: Seconds = Field(default=120.0, ge=0)
    pause_s: Seconds = Field(default=0.0, ge=0)
    rest_s: Seconds = Field(default=0.0, ge=0)
    look_s: Seconds = Field(default=0.5, gt=0)
    readings_every_s: Seconds = Field(default=1.0, ge=0)
    stall_s: Seconds = Field(default=5.0, gt=0)
    keep_speed: float = Field(default=0.6, gt=0, le=1)
    first_s: Seconds = Field(default=300.0, gt=0)
    damaged_bytes: Bytes = Field(default=0, ge=0)


class TransferCheck:
    """Write self-addressing data to the stick, read it back, tell what came of each sector."""

    name: ClassVar[str] = "transfer"
    settings: ClassVar[type[Settings]] = TransferSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"stick"})
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = False

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, TransferSettings)
        self._settings, self._place = settings, place

    def sources(self) -> Sequence[str]:
        return (STICK,)

    def quantities(self) -> Sequence[Quantity]:
        return TransferLog(STICK, 0, 0).quantities()

    def requirements(self) -> Sequence[Requirement]:
        given, over = self._settings, self._over()
        first, stall = show_duration(given.first_s), show_duration(given.stall_s)
        allowed = "Every byte" if not given.damaged_bytes else f"All but {given.damaged_bytes} B"
        whole = f"{allowed} read back over {over} is as it was written"
        brisk = f"No transfer over {over} takes longer than {stall}"
        share = f"{given.keep_speed * 100:g} %"
        kept = f"Reading over {over} keeps {share} of its speed of the first {first}"
        stays = f"The stick at {over} stays while there is power"
        return [
            self._one("no wrong data", whole, "damaged", float(given.damaged_bytes), "B"),
            self._one("no stall", brisk, "chunk_s", given.stall_s, "s"),
            self._one("speed kept", kept, "speed", given.keep_speed, "1"),
            self._one("stick stayed", stays, "", 0.0, "1"),
        ]

    def expected_s(self) -> float:
        return 0.0

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        crossing = _Crossing(self._settings, self._place.stretch, bench, done, say)
        try:
            await crossing.run()
        finally:
            crossing.close()

    def _wired(self) -> tuple[str, str]:
        stick = self._place.fixture.get("stick", {})
        return str(stick.get("port", "")), str(stick.get("path", "bench_only"))

    def _over(self) -> str:
        """Return in words what the data crosses."""
        port, path = self._wired()
        if not self._place.fixture.get("stick"):
            return "a USB port of the unit"
        if path == "bench_only":
            return "the bench's own port (this says nothing of the unit)"
        known = self._place.model_sheet.get("ports", {}).get(port, {})
        return f"the {known.get('text') or port or 'unnamed port'}"

    def _one(self, short: str, text: str, quantity: str, limit: float, unit: str) -> Requirement:
        port, path = self._wired()
        # Only what crosses the unit's own port shows that port: on the other paths the bench reads
        # the stick in its own computer.
        crosses = path == "through" and port
        params: dict[str, Any] = {"port": port, "path": path}
        if short == "speed kept":
            params["first_s"] = self._settings.first_s
        return Requirement(
            id=f"{self._place.stretch}/{self.name}/{short}",
            check=self.name,
            stretch=self._place.stretch,
            text=text,
            quantity=f"transfer.{STICK}.{quantity}" if quantity else STICK,
            rule=short,
            limit=limit,
            unit=unit,
            needs=self.needs,
            blind_allowed=self._place.blind_allowed,
            longest_blind_s=self._place.longest_blind_s,
            shows_repair=self._place.functions(self.name, port) if crosses else frozenset(),
            params=params,
        )


class _Crossing:
    """One session's transfers: what is on the stick, what it is seen to be, what was said."""

    def __init__(
        self, settings: TransferSettings, stretch: str, bench: Bench, done: Done, say: Say
    ) -> None:
        self._given, self._bench, self._say = settings, bench, say
        self._stick: Stick = bench.stick(STICK)
        self._pattern = Pattern(bench.random.bytes(16))
        self._watch = _StickWatch(self._stick, settings.look_s, stretch, bench, say)
        self._log = TransferLog(STICK, settings.readings_every_s, settings.stall_s)
        size_bytes = min(settings.size_bytes or self._stick.size_bytes, self._stick.size_bytes)
        size_bytes = min(size_bytes, settings.write_budget_bytes)
        block_bytes = self._stick.block_bytes
        chunk_bytes = min(settings.chunk_bytes, size_bytes) // block_bytes * block_bytes
        if not chunk_bytes:
            raise BenchFault(STICK, f"{show_bytes(size_bytes)} are too few to move; allow more")
        self._chunk_bytes = chunk_bytes
        already_bytes = int(done.note.get("written_bytes", 0))
        budget_bytes = settings.write_budget_bytes - already_bytes
        self._passes = Passes(chunk_bytes, size_bytes // chunk_bytes, budget_bytes)
        self._next_write_s = 0.0
        self._writes = True
        self._marks_left = MOST_MARKS
        self._untold: dict[str, int] = {}

    async def run(self) -> None:
        await self._watch.until_there()
        await self._adopt()
        while True:
            due = self._bench.clock.now_s() >= self._next_write_s
            if due and self._writes and self._passes.fits:
                await self._write_pass()
            await self._read_pass()
            await self._watch.pause(self._given.rest_s)

    async def _adopt(self) -> None:
        """Take over what an earlier session of this stretch wrote: the data itself says so."""
        found = []
        for chunk in range(self._passes.chunks):
            found.append(await self._pass_of(chunk))
            if not found[0]:
                return  # a new stick, or another soak's
        self._passes.adopt(found)

    async def _pass_of(self, chunk: int) -> int:
        """Return the pass a whole chunk is of; 0 if it was cut short when the bench stopped."""
        offset, length = self._passes.place(chunk), self._chunk_bytes
        came = await self._cross(lambda: self._stick.read_at(offset, length))
        data = came.data or b""
        label = self._pattern.whose(data[:SECTOR_BYTES]) if len(data) == length else None
        if label is None or label.offset_bytes != offset:
            return 0
        counts = self._pattern.examine(data, label.pass_number, offset)
        return 0 if counts.wrong else label.pass_number

    def close(self) -> None:
        """Say what has not been said."""
        self._tell(self._log.flush(self._bench.clock.now_s()))
        self._tell_untold()

    async def _write_pass(self) -> None:
        number = self._passes.begin()
        for chunk in range(self._passes.chunks):
            await self._write_chunk(chunk, number)
            if not self._writes:
                return
            await self._watch.pause(self._given.pause_s)
        self._next_write_s = self._bench.clock.now_s() + self._given.write_every_s

    async def _write_chunk(self, chunk: int, pass_number: int) -> None:
        offset, length = self._passes.place(chunk), self._chunk_bytes
        data = self._pattern.make(pass_number, offset, length)
        came = await self._cross(lambda: self._stick.write_at(offset, data))
        now_s = self._bench.clock.now_s()
        if came.errno is None:
            self._passes.wrote(chunk)
            self._tell(self._log.wrote(now_s, length, came.took_s))
        elif came.errno in NO_WRITING:
            self._writes = False
            why = f"it can no longer be written ({in_words(came.errno)}); look at its file system"
            self._watch.mark("bench fault", {"instrument": STICK, "what": why})
        else:
            self._passes.lost(chunk)
            self._tell(self._log.failed(now_s, came.took_s, length))
            self._wrong(chunk, {"not written": length // SECTOR_BYTES}, {"errno": came.errno})

    async def _read_pass(self) -> None:
        known = self._passes.to_read()
        for chunk, pass_number in known:
            await self._read_chunk(chunk, pass_number)
            await self._watch.pause(self._given.pause_s)
        self._tell_untold()
        if not known:
            self._watch.blind("nothing could be written, so nothing can be read back")
            await self._watch.pause(_TRY_AGAIN_S)

    async def _read_chunk(self, chunk: int, pass_number: int) -> None:
        offset, length = self._passes.place(chunk), self._chunk_bytes
        came = await self._cross(lambda: self._stick.read_at(offset, length))
        now_s = self._bench.clock.now_s()
        if came.errno is not None or came.data is None:
            self._tell(self._log.failed(now_s, came.took_s, length))
            self._wrong(chunk, {"unreadable": length // SECTOR_BYTES}, {"errno": came.errno})
            return
        counts = self._pattern.examine(came.data, pass_number, offset, length)
        is_evidence = self._watch.believe(came, length)
        if is_evidence:
            self._tell(self._log.read(now_s, length, came.took_s, counts.damaged_bytes))
        if counts.wrong:
            detail = {"pass": pass_number, "path": came.path, **counts.as_json()}
            self._wrong(chunk, {str(kind): n for kind, n in counts.wrong.items()}, detail)

    async def _cross(self, transfer: Callable[[], Awaitable[Transfer]]) -> Transfer:
        """Return a transfer that went well, or one that failed though the stick is there."""
        while True:
            came = await self._watch.attempt(transfer)
            if came is None:
                continue
            if came.errno is None or came.errno in NO_WRITING:
                return came
            if came.took_s > self._given.stall_s:
                self._tell(self._log.failed(self._bench.clock.now_s(), came.took_s))
            if came.errno in LEFT or not await self._watch.answers():
                await self._watch.gone(came.errno)
            elif came.errno != errno.ETIMEDOUT:  # a stall is one, and the data is not lost by it
                return came

    def _wrong(self, chunk: int, kinds: dict[str, int], detail: dict[str, Any]) -> None:
        if self._marks_left:
            self._marks_left -= 1
            place = {"offset_bytes": self._passes.place(chunk), "length_bytes": self._chunk_bytes}
            self._watch.mark("chunk", {"kinds": kinds, **place, **detail})
            return
        for kind, count in {**kinds, "chunks": 1}.items():
            self._untold[kind] = self._untold.get(kind, 0) + count

    def _tell_untold(self) -> None:
        untold, self._untold = self._untold, {}
        if chunks := untold.pop("chunks", 0):
            self._watch.mark("chunk", {"kinds": untold, "chunks": chunks})

    def _tell(self, readings: Sequence[Any]) -> None:
        for reading in readings:
            self._say(reading)


class _StickWatch:
    """Tries transfers, and says what the stick is seen to be."""

    def __init__(self, stick: Stick, look_s: float, stretch: str, bench: Bench, say: Say) -> None:
        self._stick, self._look_s, self._stretch = stick, look_s, stretch
        self._now_s, self._say = bench.clock.now_s, say
        self._states = StickStates(STICK)
        self._faulty = False

    async def until_there(self) -> None:
        """Return as soon as the stick answers."""
        while True:
            came = await self._look()
            if came is not None and came.errno is None:
                self.believe(came, 0)
                return
            if came is not None and came.errno is not None:
                await self.gone(came.errno)

    async def attempt(self, transfer: Callable[[], Awaitable[Transfer]]) -> Transfer | None:
        """Try a transfer; None if the bench itself failed, after a while to try again."""
        try:
            came = await transfer()
        except BenchFault as fault:
            if not self._faulty:
                self.mark("bench fault", {"instrument": fault.instrument, "what": fault.what})
            self._faulty = True
            self._tell(self._states.fault(self._now_s(), fault.what))
            await trio.sleep(_TRY_AGAIN_S)
            return None
        if self._faulty:
            self._faulty = False
            self.mark("bench well", {"instrument": STICK})
        if came.errno is None and self._states.state != "gone":
            self._tell(self._states.well(self._now_s()))
        return came

    def believe(self, came: Transfer, length: int) -> bool:
        """Return whether a read is evidence; say so where that changes."""
        self._tell(self._states.read(self._now_s(), came, length, self._stick.identity))
        return self._states.state == "seen"

    def blind(self, why: str) -> None:
        """Say that there is nothing to see."""
        self._tell(self._states.blind(self._now_s(), why))

    async def answers(self) -> bool:
        """Return whether the stick answers at its beginning."""
        came = await self._look()
        return came is not None and came.errno is None

    async def gone(self, number: int) -> None:
        """Say that the stick is gone; return when it is back."""
        since_s = self._now_s()
        self._tell(self._states.gone(since_s, number))
        while True:
            await trio.sleep(self._look_s)
            looked_s = self._now_s()
            came = await self._look()
            if came is not None and came.errno is None:
                break
            self._states.looked(looked_s)
            if came is not None and came.errno is not None:  # the bench works again, it does not
                self._tell(self._states.gone(self._now_s(), came.errno))
        self.believe(came, 0)
        gone_s = round(self._now_s() - since_s, 3)
        self.mark("reconnected", {"source": STICK, "gone_s": gone_s})

    async def pause(self, length_s: float) -> None:
        """Wait, and look now and then whether the stick is still there."""
        until_s = self._now_s() + length_s
        while (left_s := until_s - self._now_s()) > 0:
            await trio.sleep(min(self._look_s, left_s))
            if left_s <= self._look_s:
                return
            came = await self._look()
            if came is not None and came.errno is not None and not await self.answers():
                await self.gone(came.errno)

    def mark(self, what: str, detail: dict[str, Any]) -> None:
        """Make a mark of this check."""
        self._say(Mark(self._now_s(), what, self._stretch, TransferCheck.name, detail))

    async def _look(self) -> Transfer | None:
        return await self.attempt(lambda: self._stick.read_at(0, self._stick.block_bytes))

    def _tell(self, states: Sequence[State]) -> None:
        for state in states:
            self._say(state)


THE_CHECK = TransferCheck
