"""What instruments can do, as small protocols, one ability each.

Drivers, the simulation and the checks meet here; none of them knows another.
"""

from collections.abc import AsyncIterator, Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, NamedTuple, Protocol, TypeVar, runtime_checkable

from soak.records import Json, KeptFile, Mark, Observed, Reading, State
from soak.words import NOTHING_SAID, Message

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture as the capture delivered it.

    Attributes
    ----------
    t_s : float
        When it arrived, s of soak time (the driver's timestamp where there is one).
    number : int or None
        The driver's sequence number.
    form : str
        `"mjpeg"`: one JPEG packet; `"yuyv"`: 4:2:2, 2 bytes a pixel; `"bgr"`: 3 bytes a pixel.
    size : (int, int)
        Width and height in pixels as announced; a JPEG's own header is to be believed instead.
    data : memoryview
        Bytes, valid only during the call it is handed to.
    """

    t_s: float
    number: int | None
    form: Literal["mjpeg", "yuyv", "bgr"]
    size: tuple[int, int]
    data: memoryview


Seen = State | Reading | tuple[KeptFile, bytes]
"""What looking at a picture may yield; a kept file comes with its bytes."""


class Watcher(Protocol):
    """Turn pictures into states. Pure and picklable: it lives where pictures arrive."""

    def look(self, picture: Picture) -> Sequence[Seen]:
        """Look at one picture; say what began, nothing if nothing did."""

    def idle(self, t_s: float) -> Sequence[Seen]:
        """Say what began because no picture has come up to `t_s` (a stalled stream)."""


@runtime_checkable
class BlindWatcher(Watcher, Protocol):
    """A watcher that wants to hear when its capture went blind, so that no stall is made of it."""

    def blind(self, t_s: float, why: Message, *, late: bool = False) -> Sequence[Seen]:
        """Say `blind` from `t_s` on; the next picture begins afresh.

        `late`: the source went on and only its reader came late; it was not opened again.
        """


class Instrument(Protocol):
    """One wired part of a fixture."""

    @property
    def identity(self) -> Json:
        """What it is: driver, port, serial number, firmware, as far as known."""

    async def aclose(self) -> None:
        """Let go of the port; twice is safe."""


class Switch(Instrument, Protocol):
    """Switches the unit's power."""

    async def command(self, channel: str, on: bool) -> None:
        """Command on or off; return when the switch answered.

        Raises
        ------
        BenchFault
            If it did not answer, or answered something else.
        """


@runtime_checkable
class Supply(Switch, Protocol):
    """A switch that can also set the voltage it feeds the unit with."""

    @property
    def nominal_v(self) -> float:
        """The voltage that it stands at unless another is tried, V."""

    @property
    def highest_v(self) -> float:
        """The highest voltage that the unit on it is rated for, V."""

    @property
    def accuracy_v(self) -> float:
        """Half-width of the error of what it gives and of what it says that it gives, V."""

    async def set_voltage(self, channel: str, volt: float) -> float:
        """Set the voltage; return what the supply says it is set to, V.

        Raises
        ------
        BenchFault
            If it lies outside the unit's rated range, or the supply did not take it.
        """

    async def fed_v(self, channel: str) -> float:
        """Measure the voltage that the supply gives now, V.

        Raises
        ------
        BenchFault
            If it did not answer.
        """

    async def interrupt(self, channel: str, for_s: float) -> float:
        """Switch off for `for_s` and on again; return how long it was, s, as commanded.

        Raises
        ------
        BenchFault
            If it did not confirm that it is on again.
        """


class Capture(Instrument, Protocol):
    """Delivers the unit's picture to a watcher."""

    def watch(self, watcher: Watcher) -> AsyncIterator[Seen]:
        """Yield what the watcher sees until closed; a card that fails goes `blind` and is retried.

        Iterate it in one task and close it there (`async with aclosing(...)`).
        """


class Probe(Instrument, Protocol):
    """Measures one quantity at one spot."""

    def readings(self) -> AsyncIterator[Reading | State]:
        """Yield readings; `State(..., "blind")` when it falls silent, `"seen"` when it is back."""


class Link(Instrument, Protocol):
    """Watches a USB device come, go and change speed."""

    def changes(self) -> AsyncIterator[State | Reading]:
        """Yield what changes."""


class Fetched(NamedTuple):
    """One file fetched from the unit: its size in B, duration in s, and SHA-256 in hexadecimal.

    Where it broke off or `hung`, `sha256` is empty and `why` says the reason.
    """

    size_bytes: int
    took_s: float
    sha256: str = ""
    hung: bool = False
    why: Message = NOTHING_SAID


class Network(Link, Protocol):
    """Watches the link at the unit's network socket, and fetches what the unit serves over it."""

    async def fetch(self, url: str, limit_s: float) -> Fetched:
        """Fetch a file; it says itself what went wrong."""


class Load(Instrument, Protocol):
    """Draws a current from one of the unit's ports."""

    async def command(self, on: bool) -> None:
        """Draw it, or stop; return when the instrument answered.

        Raises
        ------
        BenchFault
            If it did not answer, or answered something else.
        """


class Button(Instrument, Protocol):
    """Presses the unit's own power button."""

    async def press(self, held_s: float) -> None:
        """Press, hold for `held_s` s and let go; it lets go also where it is cancelled meanwhile.

        Raises
        ------
        BenchFault
            If it did not answer: whether the button was pressed is then unknown.
        """

    async def release(self) -> None:
        """Let go; harmless where nothing is pressed.

        Raises
        ------
        BenchFault
            If it did not answer.
        """


Movement = Literal["up", "down", "left", "right", "in", "out", "twist"]
"""The seven ways in which a plug is moved in its port."""


class Servo(Instrument, Protocol):
    """Moves a plug of the unit in place of the operator's hand."""

    async def move(self, movement: Movement, lasts_s: float) -> None:
        """Move the plug that way for `lasts_s` s and go back to rest, also where it is cancelled.

        Raises
        ------
        BenchFault
            If it did not answer: the movement was not made in full.
        """

    async def rest(self) -> None:
        """Go to where the plug is left alone.

        Raises
        ------
        BenchFault
            If it did not answer.
        """


@dataclass(frozen=True, slots=True)
class Transfer:
    """One read or write on a stick.

    Attributes
    ----------
    data : bytes or None
        What was read; None after a write or when nothing came.
    took_s : float
        Duration in s.
    errno : int or None
        The system's error number; None if it went well.
    path : str
        `"direct"`: past every cache; `"reopened"`: flushed, dropped, reopened; `"maybe cached"`:
        not evidence.
    waited_s: float
        For how long of it something on this computer waited for a processor, s.
    """

    data: bytes | None
    took_s: float
    errno: int | None
    path: Literal["direct", "reopened", "maybe cached"]
    waited_s: float = 0.0


class Stick(Instrument, Protocol):
    """A medium that data crosses the unit's port to."""

    @property
    def size_bytes(self) -> int:
        """Bytes it may be filled with."""

    @property
    def block_bytes(self) -> int:
        """Offsets and lengths are multiples of this; single sectors may be refused (EINVAL)."""

    async def rested(self) -> None:
        """Return when it takes a transfer: a simulated one rests, as its nights have fewer."""

    async def write_at(self, offset: int, data: bytes) -> Transfer:
        """Write and flush to the medium."""

    async def read_at(self, offset: int, length: int) -> Transfer:
        """Read from the medium."""


class OffLoop(Protocol):
    """The only way to a thread or child process; refused when the clock leaps."""

    async def call(self, limit_s: float, work: Callable[..., T], *args: Any) -> T:
        """Run `work(*args)` off the loop for at most `limit_s`.

        Raises
        ------
        TimeoutError
            If it took longer; the work is abandoned, not waited for.
        RuntimeError
            If the clock leaps.
        """


@dataclass(frozen=True, slots=True)
class Question:
    """What the operator is asked.

    Attributes
    ----------
    expects : str
        `"done"` (or `"no"`: it was not), `"yes/no"` (`"yes"` or `"no"`) or `"number"`.
    unit : str
        Measurement unit of a number.
    wait_s : float
        How long to wait before going on without an answer.
    wanted : str
        The answer that lets the soak go on, where another ends it; empty if any will do.
    photograph : str
        Whether a photograph comes with the answer: `""` none, `"may"`, or `"must"`.
    initials : bool
        Whether whoever judged gives their initials: the answer is evidence.
    soak, whose : str and Message
        Which soak it is answered by elsewhere, of which unit; empty: none.
    """

    id: str
    text: Message
    expects: Literal["done", "yes/no", "number"]
    unit: str = ""
    wait_s: float = 600.0
    wanted: str = ""
    photograph: Literal["", "may", "must"] = ""
    initials: bool = False
    soak: str = ""
    whose: Message = NOTHING_SAID

    def agreed(self, answer: object) -> bool:
        """Tell whether somebody gave the answer that was wanted: nobody's answer never is it."""
        if self.expects == "number":
            return isinstance(answer, int | float) and not isinstance(answer, bool)
        return answer in ((self.wanted,) if self.wanted else _AGREED[self.expects])


_AGREED = {"done": ("done", "yes"), "yes/no": ("yes",)}


class Ask(Protocol):
    """Asks the operator."""

    async def __call__(self, question: Question) -> str | float | None:
        """Return the answer, or None if nobody answered in time."""


class Given(NamedTuple):
    """An answer, and a photograph (JPEG) and the initials of who judged with it."""

    value: str | float
    photograph: bytes = b""
    initials: str = ""


class Operator(Protocol):
    """Asks the operator, who may give a photograph and initials with the answer."""

    async def __call__(self, question: Question) -> str | float | Given | None:
        """Return the answer, or None if nobody answered in time."""


class GuardLink(Protocol):
    """The runner's end of the guard: the only way to the switch."""

    async def command(self, channel: str, on: bool, why: str = "") -> Mark:
        """Command on or off; return the mark of what the switch answered.

        Raises
        ------
        BenchFault
            If the switch did not answer, or the guard holds the power off.
        """

    def beat(self) -> None:
        """Say that the runner is alive."""

    def events(self) -> AsyncIterator[Observed]:
        """Yield trips, silence, and what comes from probes the guard owns."""

    async def rearm(self, channel: str, reason: str) -> None:
        """Allow power again after silence; refused after a trip."""

    async def set_voltage(self, channel: str, volt: float, why: str = "") -> Mark:
        """Set the supply's voltage while the unit is off; the next off returns it to nominal.

        Raises
        ------
        BenchFault
            If the switch sets none, refuses it, or the guard holds the power off.
        """

    async def interrupt(self, channel: str, for_s: float, why: str = "") -> Mark:
        """Break the power; return the mark of the on, with `broken_s`; if it raises it is off."""

    async def fed_v(self, channel: str) -> float:
        """Return the voltage that the supply gives now, V. Raises if it tells none."""
