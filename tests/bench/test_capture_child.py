"""Captures in child processes: what hangs or dies there is killed, told and opened again."""

import os
import signal
import subprocess
import sys
from contextlib import aclosing
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import trio
from bench_tools import open_driver, run_real
from patience import until
from pretend_cards import GOOD_PICTURES, Clocking, Counting, PretendOpener

from soak.bench.capture import child as capture_child
from soak.bench.drivers import opencv
from soak.clock import boot_time_s
from soak.errors import BenchFault
from soak.measure.video.watcher import PictureWatcher, WatcherSettings
from soak.records import KeptFile, Reading, State


def settings(source="0", **more):
    return {"driver": "opencv", "source": str(source), "read_limit_s": 1.0, **more}


@pytest.fixture
def pretend(monkeypatch, tmp_path):
    """Let captures open a card with the given story; give small limits."""
    monkeypatch.setattr(capture_child, "MARGIN_S", 1.0)

    def told(*story):
        opener = PretendOpener(story, tmp_path / "openings")
        monkeypatch.setattr(opencv, "open_stream", opener)
        return opener

    return told


def seen_until(enough, watcher=None, act=None, **given):
    """Watch a capture until `enough(seen)`; return what was seen and the children's number."""

    async def main(tools):
        capture = await open_driver("capture", "capture", settings(**given), tools)
        seen = []
        async with aclosing(capture.watch(watcher or Counting())) as records:
            async for one in records:
                seen.append(one)
                if act is not None:
                    act(capture, seen)
                if enough(seen):
                    break
        await capture.aclose()
        await capture.aclose()
        return seen, capture

    return run_real(main)


def states(seen):
    return [one for one in seen if isinstance(one, State)]


def names(seen):
    return [one.state for one in states(seen)]


def pictures_twice(seen):
    return names(seen).count("picture") == 2


def is_gone(pid):
    """Whether a process is gone, or is a zombie that nobody has reaped."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z"
    except (FileNotFoundError, ProcessLookupError):
        return True


def ignores(pid, number):
    """Whether a process ignores a signal: proc_pid_status(5), `SigIgn` is a mask, 1 is bit 0."""
    status = Path(f"/proc/{pid}/status").read_text()
    (mask,) = (line.split()[1] for line in status.splitlines() if line.startswith("SigIgn:"))
    return bool(int(mask, 16) >> (number - 1) & 1)


def clip(path, frames, rate_hz=25.0):
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"MJPG"), rate_hz, (64, 48))
    scene = np.random.default_rng(5).integers(40, 220, (48, 64, 3), dtype=np.uint8)
    for number in range(frames):
        dark = frames > 30 and 20 <= number < 23
        writer.write(np.zeros_like(scene) if dark else np.roll(scene, number % 60, axis=1))
    writer.release()
    return path


def test_a_clip_is_watched_in_another_process_to_its_end(tmp_path):
    """States and their times are those of the clip, and the child is gone at the end."""
    source = clip(tmp_path / "clip.avi", 50)
    pids = []
    seen, capture = seen_until(
        lambda seen: names(seen)[-1:] == ["blind"],
        PictureWatcher(WatcherSettings()),
        act=lambda capture, seen: pids.append(capture.pid),
        source=source,
    )
    assert names(seen) == ["picture", "black", "picture", "blind"]
    first, black, after, _ = states(seen)
    assert black.t_s - first.t_s == pytest.approx(20 / 25, abs=1e-3)
    assert after.t_s - black.t_s == pytest.approx(3 / 25, abs=1e-3)
    assert "ended" in states(seen)[3].detail["why"]
    assert capture.identity["fourcc"] == "MJPG"
    assert set(pids) != {os.getpid()}
    assert all(is_gone(pid) for pid in pids)
    frames = [one for one in seen if isinstance(one, tuple)]
    assert all(isinstance(one, KeptFile) and data[:2] == b"\xff\xd8" for one, data in frames)
    assert frames


def test_times_of_the_child_are_the_parents_soak_time(pretend):
    """The child's soak time and the parent's are one to 50 ms, by the boot clock they share."""
    pretend("good")

    async def main(tools):
        await trio.sleep(0.3)  # so that soak time is not the age of the child
        zero_s = boot_time_s() - tools.clock.now_s()
        capture = await open_driver("capture", "capture", settings(), tools)
        apart_s = []
        async with aclosing(capture.watch(Clocking())) as records:
            async for one in records:
                apart_s.append(one.value - zero_s - one.t_s)
                if len(apart_s) == 50:
                    break
        await capture.aclose()
        return apart_s

    # A crowded machine may stop the child between the two looks at its clock, but not each time.
    assert -1e-3 < min(run_real(main)) < 0.05


def test_a_driver_that_hangs_is_killed_and_the_card_opened_again(pretend):
    """Blind from the last picture on, within the limit; then the picture is back."""
    opener = pretend("hangs", "good")
    seen, capture = seen_until(pictures_twice, Counting(tells_every=1))
    assert names(seen) == ["picture", "blind", "picture"]
    _, blind, _ = states(seen)
    assert "hangs" in blind.detail["why"]
    assert "afresh" in blind.detail["why"]
    before = [one for one in seen[: seen.index(blind)] if isinstance(one, Reading)]
    assert 1 <= before[-1].value <= GOOD_PICTURES  # what it saw last it had no time to tell
    assert blind.t_s == pytest.approx(before[-1].t_s)
    hung, good = opener.pids()
    assert hung != good
    until(lambda: is_gone(hung))
    assert capture.started == 2


def test_evidence_of_a_second_child_has_other_names(pretend):
    """Each child numbers its frames from the first; a name is used once in a soak."""
    pretend("hangs", "good")
    seen, _ = seen_until(lambda seen: sum(isinstance(one, tuple) for one in seen) == 2)
    shown = [one[0].name for one in seen if isinstance(one, tuple)]
    assert shown == ["capture-1.jpg", "again-2-capture-1.jpg"]


def test_evidence_of_many_children_is_bounded_and_the_rest_counted(pretend, monkeypatch):
    """A card that hangs all night fills no disk; the next state says how much was not kept."""
    monkeypatch.setattr(capture_child, "MOST_EVIDENCE", 0)
    pretend("hangs", "hangs", "good")
    seen, capture = seen_until(lambda seen: names(seen).count("picture") == 3)
    assert sum(isinstance(one, tuple) for one in seen) == 1
    assert [one.detail.get("evidence_dropped", 0) for one in states(seen)] == [0, 0, 0, 1, 0]
    assert capture.dropped == 1


class WokenOffLoop:
    """The way off the loop of a host that slept: some limits have passed before anything ran."""

    def __init__(self, off_loop):
        self.off_loop, self.left = off_loop, 3

    async def call(self, limit_s, work, *args):
        if work.__name__ == "wait" and self.left:
            self.left -= 1
            raise TimeoutError
        return await self.off_loop.call(limit_s, work, *args)


def test_a_host_that_slept_does_not_kill_a_child_that_had_no_time_to_answer(pretend):
    """Soak time runs on while a host sleeps; a child's silence is counted without it."""
    opener = pretend("good")

    async def main(tools):
        woken = WokenOffLoop(tools.off_loop)
        tools = replace(tools, off_loop=woken)
        capture = await open_driver("capture", "capture", settings(), tools)
        woken.left = 3
        async with aclosing(capture.watch(Counting())) as records:
            async for one in records:
                if isinstance(one, Reading):
                    break
        await capture.aclose()
        return woken.left

    assert run_real(main) == 0
    assert len(opener.pids()) == 1


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGSTOP])
def test_a_child_that_is_killed_or_stopped_is_replaced(pretend, number):
    """The capture is blind, then sees again; nothing is said against the unit."""
    pretend("good")
    done = []

    def act(capture, seen):
        if not done and isinstance(seen[-1], Reading):
            done.append(capture.pid)
            os.kill(capture.pid, number)

    seen, _ = seen_until(pictures_twice, act=act)
    assert names(seen) == ["picture", "blind", "picture"]
    word = "SIGKILL" if number == signal.SIGKILL else "no sign of life"
    assert word in states(seen)[1].detail["why"]
    until(lambda: is_gone(done[0]))


def test_a_card_that_stays_away_is_looked_for_with_growing_pauses(pretend, monkeypatch):
    """Blind is said once, attempts become rarer, and the card is found when it is back."""
    monkeypatch.setattr(capture_child, "FIRST_PAUSE_S", 0.1)
    opener = pretend("hangs", "missing", "missing", "good")
    seen, _ = seen_until(pictures_twice)
    assert names(seen) == ["picture", "blind", "picture"]
    assert len(opener.pids()) == 4


def test_a_card_that_does_not_open_is_one_sentence(pretend):
    """A driver that hangs while opening is a fault of the bench, and its child is ended."""
    opener = pretend("does not open")
    with pytest.raises(BenchFault, match="does not open") as fault:
        seen_until(bool, open_limit_s=1.0)
    assert "\n" not in str(fault.value)
    until(lambda: is_gone(opener.pids()[0]))


def test_a_card_that_is_missing_is_one_sentence(pretend):
    """What the child cannot open is said in its words."""
    pretend("missing")
    with pytest.raises(BenchFault, match=r"^capture: there is no card; plug it in$"):
        seen_until(bool)


def test_a_watcher_that_breaks_is_a_fault_of_the_bench(pretend):
    """One sentence and no hang; what it saw before is told, and watching again works."""
    pretend("good")

    async def main(tools):
        capture = await open_driver("capture", "capture", settings(), tools)
        seen = []

        async def to_its_end():
            async with aclosing(capture.watch(Counting(breaks_at=25))) as records:
                async for one in records:
                    seen.append(one)

        with pytest.raises(BenchFault, match="ValueError: no such picture") as fault:
            await to_its_end()
        assert "\n" not in str(fault.value)
        async with aclosing(capture.watch(Counting())) as records:
            async for one in records:
                seen.append(one)
                if names(seen)[-1:] == ["picture"] and len(states(seen)) > 1:
                    break
        await capture.aclose()
        return seen

    seen = run_real(main)
    assert names(seen) == ["picture", "blind", "picture"]
    assert [one.value for one in seen if isinstance(one, Reading)] == [10, 20]


def test_three_captures_side_by_side_each_see_their_pictures(tmp_path):
    """Each in a process of its own, each from picture to picture of a clip that begins anew."""
    source = clip(tmp_path / "clip.avi", 30)

    async def main(tools):
        pids = set()

        async def one_of_three():
            capture = await open_driver(
                "capture", "capture", settings(source, at_end="again"), tools
            )
            async with aclosing(capture.watch(Counting())) as records:
                async for one in records:
                    if isinstance(one, Reading) and one.value == 80:
                        pids.add(capture.pid)
                        break
            await capture.aclose()

        async with trio.open_nursery() as nursery:
            for _ in range(3):
                nursery.start_soon(one_of_three)
        return pids

    assert len(run_real(main)) == 3


PARENT = """\
import signal, sys, trio
signal.signal(signal.SIGINT, signal.default_int_handler)  # where the tests' own shell ignores it
from pathlib import Path
sys.path[:0] = {paths}
from bench_tools import open_driver, run_real
from patience import until
from pretend_cards import Counting, PretendOpener
from soak.bench.drivers import opencv
opencv.open_stream = PretendOpener(({word!r},), Path({openings!r}))
async def main(tools):
    given = {{"driver": "opencv", "source": "0"}}
    capture = await open_driver("capture", "capture", given, tools)
    count = 0
    async for one in capture.watch(Counting()):
        count += 1
        if count == 3:
            print("looking", flush=True)
run_real(main)
"""


@pytest.mark.parametrize("word", ["good", "hangs"])
def test_a_child_ends_when_its_parent_is_killed(tmp_path, word):
    """No process is left behind by a parent that had no time to end it, hanging or not."""
    openings = tmp_path / "openings"
    paths = [str(Path(__file__).parents[1] / "support")]
    program = PARENT.format(paths=paths, word=word, openings=str(openings))
    with subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE) as parent:
        assert parent.stdout.readline() == b"looking\n"
        [child] = PretendOpener((), openings).pids()
        assert not is_gone(child)
        # Ctrl-C goes to the whole group in front: the child is not in it, and would ignore it.
        assert os.getsid(child) != os.getsid(parent.pid)
        assert ignores(child, signal.SIGINT)
        parent.kill()
    until(lambda: is_gone(child))
