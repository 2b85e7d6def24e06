"""Simulated instruments under the leaping clock, opened as any fixture's are."""

import errno
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import aclosing
from pathlib import Path
from typing import Any, cast

import pytest
import trio

from soak.bench.fixture import read_fixture
from soak.bench.registry import Tools, open_instruments
from soak.clock import LeapingClock
from soak.errors import BenchFault
from soak.instruments import Instruments
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import Reading, State
from soak.roles import Capture, Picture, Stick, Switch
from soak.sim.instruments import drivers_of
from soak.sim.pictures import NO_SIGNAL_FILE, no_signal_picture
from soak.sim.samples import fixture_text
from soak.sim.scene import HOLDS_UP_S, Scene, read_scene
from soak.sim.unit import SimulatedUnit

Work = Callable[[Instruments, SimulatedUnit], Awaitable[None]]


def _play(scene: str | Scene, tmp_path: Path, work: Work, seed: int = 7, edit: str = "") -> None:
    """Open all instruments of a scene and do `work` with them in simulated time."""
    played = read_scene(scene) if isinstance(scene, str) else scene
    clock, unit = LeapingClock(), SimulatedUnit(played, seed)
    file = tmp_path / "fixture.toml"
    text = fixture_text("good")
    old, _, new = edit.partition(" -> ")
    file.write_text(text.replace(old, new) if edit else text)

    async def main() -> None:
        tools = Tools(cast(Any, None), cast(Any, None), clock)
        fixture = read_fixture(file, None, drivers_of(unit))
        async with open_instruments(fixture, tools, drivers_of(unit)) as instruments:
            await work(instruments, unit)

    trio.run(main, clock=clock)


async def _until(stream: AsyncIterator[Any], t_s: float, into: list[Any]) -> None:
    with trio.move_on_at(t_s):
        async with aclosing(cast(Any, stream)) as records:
            async for record in records:
                into.append(record)


def _watcher() -> PictureWatcher:
    taught = (NO_SIGNAL_FILE.read_bytes(),)
    return PictureWatcher(WatcherSettings(moving=True, taught=taught))


def _states(records: list[Any], source: str) -> list[State]:
    return [r for r in records if isinstance(r, State) and r.source == source]


class _Counting:
    """A watcher that keeps the times of what it is shown."""

    def __init__(self) -> None:
        self.at_s: list[float] = []

    def look(self, picture: Picture) -> tuple[()]:
        self.at_s.append(picture.t_s)
        return ()

    def idle(self, t_s: float) -> tuple[()]:
        return ()


def test_the_capture_places_each_change_to_one_frame(tmp_path: Path) -> None:
    """Through a real watcher each state begins when the unit's picture changed, within 1/60 s."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        seen: list[Any] = []
        async with trio.open_nursery() as nursery:
            watch = cast(Capture, bench.capture).watch(_watcher())
            nursery.start_soon(_until, watch, 20_000.0, seen)
            await trio.sleep(10)
            await cast(Switch, bench.switch).command("1", True)
            await trio.sleep(19_000)
            await cast(Switch, bench.switch).command("1", False)
        states = _states(seen, "capture")
        assert [(s.t_s, s.state) for s in states[1:]] == unit.looks.since(0.0)[1:]
        assert len(states) > 6  # starts, drops when hot, off
        assert all(s.within_s <= 1 / 60 + 1e-6 for s in states[1:])

    _play("video_drops_when_hot", tmp_path, work)


def test_pictures_are_few_while_nothing_happens(tmp_path: Path) -> None:
    """An hour without power gives one picture a second, in order of time."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        watcher = _Counting()
        await _until(cast(Capture, bench.capture).watch(watcher), 3600.0, [])
        assert 3590 <= len(watcher.at_s) <= 3610
        assert watcher.at_s == sorted(watcher.at_s)

    _play("good", tmp_path, work)


def test_a_vanished_adapter_is_blind_and_then_sees_again(tmp_path: Path) -> None:
    """The capture is blind for just the outage and afterwards says the picture anew."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        seen: list[Any] = []
        await cast(Switch, bench.switch).command("1", True)
        await _until(cast(Capture, bench.capture).watch(_watcher()), 30_000.0, seen)
        *_, before, blind, after = _states(seen, "capture")
        assert (before.state, blind.state, after.state) == ("picture", "blind", "picture")
        assert after.t_s - blind.t_s == pytest.approx(1200.0, abs=1.0)
        assert "adapter" in blind.detail["why"]
        assert blind.within_s <= 1 / 60 + 1e-6

    _play("good_adapter_vanishes", tmp_path, work)


def test_a_plain_watcher_hears_of_blindness_too(tmp_path: Path) -> None:
    """With a watcher that has no say in blindness the capture itself says it."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        seen: list[Any] = []
        await _until(cast(Capture, bench.capture).watch(_Counting()), 30_000.0, seen)
        assert [s.state for s in _states(seen, "capture")] == ["blind"]

    _play("good_adapter_vanishes", tmp_path, work)


def test_probes_read_the_unit_within_accuracy_and_noise(tmp_path: Path) -> None:
    """Readings come every 5 s, stepped by 0.1 K, and lie within 1 K and noise of the truth."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        seen: list[Any] = []
        await cast(Switch, bench.switch).command("1", True)
        await _until(bench.probes["probe.heatsink"].readings(), 3601.0, seen)
        assert _states(seen, "probe.heatsink")[0].state == "seen"
        readings = [r for r in seen if isinstance(r, Reading)]
        assert len(readings) == 721
        for reading in readings:
            true_degc = unit.temperature_degc("heatsink", reading.t_s)
            assert abs(reading.value - true_degc) < 0.5 + 6 * 0.08 + 0.05
            assert round(reading.value * 10) == pytest.approx(reading.value * 10)

    _play("good", tmp_path, work)


def test_the_noise_of_a_reading_does_not_depend_on_when_reading_began(tmp_path: Path) -> None:
    """A probe that is read from later on gives the same readings as one read from the start."""
    kept: list[list[Reading]] = []
    for begin_s in (0.0, 1000.0):

        async def work(bench: Instruments, unit: SimulatedUnit, begin_s: float = begin_s) -> None:
            seen: list[Any] = []
            await trio.sleep(begin_s)
            await _until(bench.probes["probe.ambient"].readings(), 2001.0, seen)
            kept.append([r for r in seen if isinstance(r, Reading) and r.t_s >= 1000.0])

        _play("good", tmp_path, work)
    assert kept[0] == kept[1]
    assert len(kept[0]) == 201


def test_supply_current_tells_off_from_on(tmp_path: Path) -> None:
    """A current probe reads a clean zero without power and the used current with it."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        seen: list[Any] = []
        async with trio.open_nursery() as nursery:
            nursery.start_soon(_until, bench.probes["probe.supply"].readings(), 201.0, seen)
            await trio.sleep(99)
            await cast(Switch, bench.switch).command("1", True)
        values = {r.t_s: r.value for r in seen if isinstance(r, Reading)}
        assert {value for t_s, value in values.items() if t_s < 99} == {0.0}
        assert values[200.0] == pytest.approx(0.85, abs=0.03)

    _play("good", tmp_path, work)


def test_a_silent_probe_is_blind_and_comes_back(tmp_path: Path) -> None:
    """A probe that falls silent is blind 10 s later and gives nothing until it is back."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        seen: list[Any] = []
        await _until(bench.probes["probe.heatsink"].readings(), 30_000.0, seen)
        first, blind, again = _states(seen, "probe.heatsink")
        assert (first.state, blind.state, again.state) == ("seen", "blind", "seen")
        assert again.t_s - (blind.t_s - blind.within_s) == pytest.approx(1800.0)
        between = [r for r in seen if isinstance(r, Reading) and blind.t_s < r.t_s < again.t_s]
        assert between == []

    _play("probe_falls_silent", tmp_path, work)


def test_a_spot_the_scene_does_not_know_is_refused(tmp_path: Path) -> None:
    """A probe at a spot without heat in the scene says which spots there are."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        raise AssertionError("opened")

    with pytest.raises(BenchFault, match="its spots are ambient, heatsink, outside"):
        _play("good", tmp_path, work, edit='spot = "outside" -> spot = "inlet"')


@pytest.mark.parametrize(
    ("fault", "on_after_on", "on_after_off", "answers"),
    [("welded", True, True, True), ("open", False, False, True), ("mute", False, True, False)],
)
def test_a_relay_fails_as_the_scene_says(
    fault: str, on_after_on: bool, on_after_off: bool, answers: bool, tmp_path: Path
) -> None:
    """Welded: off leaves power on; open: on leaves it off; mute: nothing happens, no answer."""
    keys = {"name": "own", "truth": "own", "truth_grade": "ready", "fault": "none"}
    relay = {"relay": {"fault": fault, "at_s": [100, 100]}}
    scene = Scene.model_validate({**keys, "bench": relay})

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        switch = cast(Switch, bench.switch)

        async def command(on: bool) -> None:
            if answers:
                await switch.command("1", on)
            else:
                with pytest.raises(BenchFault, match="did not answer"):
                    await switch.command("1", on)

        await switch.command("1", True)
        await trio.sleep(200)
        await command(False)
        assert unit.powered == on_after_off
        unit.power(300.0, False)
        await trio.sleep(200)
        await command(True)
        assert unit.powered == on_after_on

    _play(scene, tmp_path, work)


def test_another_channel_is_not_the_units(tmp_path: Path) -> None:
    """A channel that is not wired is a fault of the bench, and the unit stays off."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        with pytest.raises(BenchFault, match="no channel '2'"):
            await cast(Switch, bench.switch).command("2", True)
        assert not unit.powered

    _play("good", tmp_path, work)


def _stick(bench: Instruments) -> Stick:
    assert bench.stick is not None
    return bench.stick


def test_a_good_port_gives_back_what_was_written(tmp_path: Path) -> None:
    """Data read hours later is data written, at about the usual speed."""
    data = bytes(range(256)) * 256

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        await cast(Switch, bench.switch).command("1", True)
        await trio.sleep(60)
        assert (await _stick(bench).write_at(8192, data)).errno is None
        for _ in range(200):
            await trio.sleep(60)
            read = await _stick(bench).read_at(8192, len(data))
            assert read.data == data
            assert len(data) / read.took_s == pytest.approx(24e6, rel=0.2)

    _play("good", tmp_path, work)


def test_a_stick_through_a_unit_is_gone_while_the_unit_is(tmp_path: Path) -> None:
    """Before the start is over, and off, the drive is not there; data outlives the power."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        stick, switch = _stick(bench), cast(Switch, bench.switch)
        assert (await stick.read_at(0, 4096)).errno == errno.ENODEV
        await switch.command("1", True)
        assert (await stick.read_at(0, 4096)).errno == errno.ENODEV
        await trio.sleep(60)
        assert (await stick.write_at(0, b"x" * 4096)).errno is None
        await switch.command("1", False)
        await trio.sleep(HOLDS_UP_S)
        assert (await stick.read_at(0, 4096)).errno == errno.ENODEV
        await switch.command("1", True)
        await trio.sleep(60)
        assert (await stick.read_at(0, 4096)).data == b"x" * 4096

    _play("good", tmp_path, work)


def test_a_bench_only_stick_never_shows_the_units_fault(tmp_path: Path) -> None:
    """A stick in the bench's computer is there and whole, whatever the unit's port does."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        await cast(Switch, bench.switch).command("1", True)
        await _stick(bench).write_at(0, b"x" * 65536)
        for _ in range(300):
            await trio.sleep(30)
            assert (await _stick(bench).read_at(0, 65536)).data == b"x" * 65536

    _play("service_port_loses_data", tmp_path, work, edit='"through" -> "bench_only"')


def test_the_stick_ends_where_it_says(tmp_path: Path) -> None:
    """Writing past the end finds no room, reading past it is refused, and its size stays."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        stick = _stick(bench)
        await cast(Switch, bench.switch).command("1", True)
        await trio.sleep(60)
        assert (await stick.write_at(stick.size_bytes, b"x" * 4096)).errno == errno.ENOSPC
        assert (await stick.read_at(stick.size_bytes - 4096, 8192)).errno == errno.EINVAL
        assert (await stick.read_at(stick.size_bytes - 4096, 4096)).data == bytes(4096)

    _play("good", tmp_path, work)


def test_pulling_the_power_in_a_transfer_is_an_error_not_silence(tmp_path: Path) -> None:
    """A write that is under way when the unit goes off ends with an error number."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        await cast(Switch, bench.switch).command("1", True)
        await trio.sleep(60)
        async with trio.open_nursery() as nursery:

            async def pull() -> None:
                await trio.sleep(0.001)
                await cast(Switch, bench.switch).command("1", False)

            nursery.start_soon(pull)
            wrote = await _stick(bench).write_at(0, bytes(1 << 20))  # takes about 0.12 s
        assert wrote.errno == errno.EIO

    roomy = 'path = "through" -> path = "through"\nsize_bytes = 1_048_576'
    _play("good", tmp_path, work, edit=roomy)


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("scene", ["service_port_loses_data", "came_back"])
def test_a_bad_port_damages_some_reads_and_not_most(scene: str, seed: int, tmp_path: Path) -> None:
    """In four hours of reading some reads come back wrong, most come back right."""
    data = bytes(range(251)) * 4096
    data = data[: 64 << 10]

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        wrong: list[float] = []
        await cast(Switch, bench.switch).command("1", True)
        await trio.sleep(60)
        await _stick(bench).write_at(0, data)
        for _ in range(2880):
            await trio.sleep(5)
            read = await _stick(bench).read_at(0, len(data))
            if read.data != data:
                wrong.append(trio.current_time())
        assert 10 < len(wrong) < 1000
        if scene == "came_back":
            assert min(unit.temperature_degc("heatsink", t_s) for t_s in wrong) > 47.0

    _play(scene, tmp_path, work, seed)


def test_the_no_signal_file_is_the_picture_the_card_shows() -> None:
    """The picture to be taught is, pixel by pixel, the one the capture delivers."""
    import cv2

    taught = cv2.imread(str(NO_SIGNAL_FILE), cv2.IMREAD_COLOR)
    assert taught is not None
    assert (taught == no_signal_picture()).all()


def test_closing_twice_is_safe(tmp_path: Path) -> None:
    """Each instrument may be closed again after the bench closed it."""

    async def work(bench: Instruments, unit: SimulatedUnit) -> None:
        for instrument in (bench.switch, bench.capture, bench.stick):
            await cast(Any, instrument).aclose()
        for probe in bench.probes.values():
            await probe.aclose()
            assert probe.identity["driver"] == "simulated"

    _play("good", tmp_path, work)


def test_what_one_instrument_sees_does_not_depend_on_the_others(tmp_path: Path) -> None:
    """The capture sees the same states alone as beside followed probes and a busy stick."""
    kept: list[list[State]] = []
    for busy in (False, True):

        async def work(bench: Instruments, unit: SimulatedUnit, busy: bool = busy) -> None:
            seen: list[Any] = []
            async with trio.open_nursery() as nursery:
                watch = cast(Capture, bench.capture).watch(_watcher())
                nursery.start_soon(_until, watch, 6_000.0, seen)
                if busy:
                    for probe in bench.probes.values():
                        nursery.start_soon(_until, probe.readings(), 6_000.0, [])
                    nursery.start_soon(_read_for_ever, bench)
                for number in range(40):
                    await cast(Switch, bench.switch).command("1", number % 2 == 0)
                    await trio.sleep(45)
                await cast(Switch, bench.switch).command("1", True)
                await trio.sleep_until(6_001.0)
                nursery.cancel_scope.cancel()
            kept.append(_states(seen, "capture"))

        _play("video_drops_when_hot", tmp_path, work)
    assert kept[0] == kept[1]
    assert len(kept[0]) > 60


async def _read_for_ever(bench: Instruments) -> None:
    while True:
        await _stick(bench).read_at(0, 65536)
        await trio.sleep(0.3)  # without it nearly all of the test's time would go into reads
