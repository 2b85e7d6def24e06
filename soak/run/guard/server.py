"""The guard's process from within: serve runners over a local socket, each unit at its own post."""

import os
import signal
import socket
from contextlib import suppress
from functools import partial
from pathlib import Path

import trio

from soak.bench.registry import Tools
from soak.crash import kept_trace
from soak.errors import BenchFault
from soak.reader import show
from soak.records import Json, Mark, Observed, Reading, State
from soak.run.guard.post import Order, Post, open_post
from soak.run.guard.wire import (
    BEAT_EVERY_S,
    WIRE_FORMAT,
    Line,
    OtherEndGone,
    as_message,
    as_record,
    as_refusal,
)
from soak.words import NOTHING_SAID, Number, msg

_FIRST_WITHIN_S = 20.0
"""A guard that nobody came to ends again. Our own choice."""
_OPENING_S = 60.0
"""The instruments have so long to open, s. Our own choice: some wait for a board that restarts."""
_MOST_WAITING = 10_000
"""A runner that takes nothing more is not told readings any more. Our own choice."""


class Server:
    """Serve until the last runner has gone and every unit is off.

    Parameters
    ----------
    tools : Tools
        For opening instruments.
    """

    def __init__(self, tools: Tools) -> None:
        self._tools = tools
        self._posts: list[Post] = []
        self._here = 0
        self._changed = trio.Event()
        self._ending = NOTHING_SAID
        self._opening = trio.Lock()

    async def serve(self, socket_path: Path) -> None:
        """Listen on a socket that only this user can reach."""
        with _listen(socket_path) as listener:
            async with trio.open_nursery() as nursery:
                nursery.start_soon(self._accept, listener, nursery)
                nursery.start_soon(self._heed_signals, nursery.cancel_scope)
                await self._until_idle()
                nursery.cancel_scope.cancel()

    async def _accept(self, listener: trio.socket.SocketType, nursery: trio.Nursery) -> None:
        while True:
            client, _ = await listener.accept()
            nursery.start_soon(self._serve_one, Line(trio.SocketStream(client)))

    async def _until_idle(self) -> None:
        with trio.move_on_after(_FIRST_WITHIN_S):
            await self._changed.wait()
        while self._here:
            self._changed = trio.Event()
            await self._changed.wait()

    def _count(self, more: int) -> None:
        self._here += more
        self._changed.set()

    async def _serve_one(self, line: Line) -> None:
        """Serve one runner; however it goes, its unit is off before it counts as gone."""
        self._count(1)
        try:
            await self._with_line(line)
        except* OtherEndGone:
            pass
        except* Exception as bug:  # one runner's mishap must not end the others' guard
            show(kept_trace(bug))
        finally:
            with trio.CancelScope(shield=True):
                await line.aclose()
            self._count(-1)

    async def _with_line(self, line: Line) -> None:
        hello = {"said": "hello", "pid": os.getpid(), "format": WIRE_FORMAT}
        not_off = [post.not_off for post in self._posts if post.not_off is not None]
        await line.send({**hello, "not_off": not_off})
        async with trio.open_nursery() as nursery:
            nursery.start_soon(line.deliver)
            nursery.start_soon(_beat, line)
            post = await self._attach(await line.hear(), line)
            if post is not None:
                try:
                    await self.guard(post, line)
                finally:
                    self._posts.remove(post)
            else:
                await line.hear()  # until it closes
            nursery.cancel_scope.cancel()

    async def _attach(self, message: Json, line: Line) -> Post | None:
        try:
            order = Order.read(message)
            if self._ending:
                raise BenchFault("guard", self._ending)
            async with self._opening:
                with trio.fail_after(_OPENING_S):
                    post = await open_post(order, self._tools, self._posts)
                self._posts.append(post)
        except (BenchFault, trio.TooSlowError) as fault:
            slow = msg(
                "the instruments did not open within {opening_s} s",
                opening_s=Number(_OPENING_S, "g"),
            )
            refused = fault if isinstance(fault, BenchFault) else BenchFault("guard", slow)
            line.tell({"said": "refused", "id": 0, **as_refusal(refused)})
            return None
        answer = {"identity": post.identities, "found_on": post.found_on}
        line.tell({"said": "attached", **answer})
        return post

    async def guard(self, post: Post, line: Line) -> None:
        """Guard a unit until its runner has gone, and leave it off."""
        say = partial(_tell, line)
        try:
            async with trio.open_nursery() as nursery:
                nursery.start_soon(post.watch, say)
                with suppress(OtherEndGone):
                    await self._obey_all(post, line, nursery)
                nursery.cancel_scope.cancel()  # a command under way must not hold up the off
        finally:
            with trio.CancelScope(shield=True):
                if not post.guard.is_safe:
                    await post.lost()
                await post.aclose()

    async def _obey_all(self, post: Post, line: Line, nursery: trio.Nursery) -> None:
        while True:
            message = await line.hear()
            post.heard()
            match message.get("do"):
                case "beat":
                    pass
                case "begin":
                    say = partial(_tell, line)
                    folder = Path(str(message["folder"]))
                    nursery.start_soon(post.begin, folder, say)
                case "seen":
                    post.guard.observe(as_record(message))
                case "power" | "voltage" | "break" | "fed" | "end" | "rearm":
                    if message.get("on"):  # heard in order: what comes after an on waits with it
                        await post.ready.wait()
                    nursery.start_soon(self._answer, post, line, message)
                    # Begun before the next is heard: of on and off in one breath the last holds.
                    await trio.lowlevel.checkpoint()
                case other:
                    raise OtherEndGone(f"it wants {other!r}, which no guard does")

    async def _answer(self, post: Post, line: Line, message: Json) -> None:
        number = int(message["id"])
        try:
            answer = await self._obeyed(post, message)
        except BenchFault as fault:
            line.tell({"said": "refused", "id": number, **as_refusal(fault)})
            return
        log = {} if post.log is None else post.log.head()
        line.tell({"said": "answer", "id": number, "log": log, **answer})

    async def _obeyed(self, post: Post, message: Json) -> Json:
        why = str(message.get("why", ""))
        channel = post.order.channel
        match message["do"]:
            case "power":
                return as_message(await post.guard.command(channel, bool(message["on"]), why))
            case "voltage":
                volt = float(message["volt"])
                return as_message(await post.guard.set_voltage(channel, volt, why))
            case "break":
                for_s = float(message["for_s"])
                return as_message(await post.guard.interrupt(channel, for_s, why))
            case "fed":
                return {"volt": await post.guard.fed_v(channel)}
            case "rearm":
                await post.guard.rearm(channel, why)
            case _:
                await post.end(why)
        return {}

    async def _heed_signals(self, serving: trio.CancelScope) -> None:
        """Told to end by the system: every unit off first."""
        wanted = [signal.SIGINT, signal.SIGTERM, signal.SIGHUP]
        with trio.open_signal_receiver(*wanted) as arriving:
            async for number in arriving:
                self._ending = msg("was told to end ({signal})", signal=signal.Signals(number).name)
                async with trio.open_nursery() as nursery:
                    for post in self._posts:
                        why = f"the guard {self._ending}"
                        nursery.start_soon(post.end, why)
                serving.cancel()


async def _beat(line: Line) -> None:
    while True:
        if line.waiting < _MOST_WAITING:
            line.tell({"said": "beat"})
        await trio.sleep(BEAT_EVERY_S)


def _tell(line: Line, record: Observed) -> None:
    if isinstance(record, Mark | State) or line.waiting < _MOST_WAITING:
        assert isinstance(record, Mark | State | Reading)
        line.tell({"said": "record", **as_message(record)})


def _listen(path: Path) -> trio.socket.SocketType:
    """Return a listening local socket; the folder it lies in is its only lock."""
    path.unlink(missing_ok=True)
    plain = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    plain.bind(str(path))
    path.chmod(0o600)
    plain.listen(32)
    return trio.socket.from_stdlib_socket(plain)
