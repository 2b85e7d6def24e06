"""The swap test: exchange cable, port and card one after another, and count what is lost."""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import trio

from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import fixture_file, read_any_fixture, read_order
from soak.desk.standing import Standing, stand_up
from soak.desk.units import open_ledger
from soak.errors import BenchFault, ExitCode, UsageError
from soak.judge.explain.swapping import Swapped, decide
from soak.records import State
from soak.roles import Question
from soak.run.stand import Stand
from soak.states import SHOWN, lost, patient_start_limit_s

_PARTS = ("cable", "port of the bench", "capture card")


def swap(bench_path: Path, order_text: str, watch_s: float) -> int:
    """Guide the operator through the swaps; say where the fault lies."""
    if not 10 <= watch_s <= 600:
        raise UsageError(f"--seconds {watch_s:g}: watch for 10 to 600 s each")
    bench, order = BenchFolder(bench_path), read_order(order_text)
    sheet = bench.model_sheet(open_ledger(bench_path).find_unit(order.unit).model)
    fixture = read_any_fixture(fixture_file(bench, order.fixture), sheet)
    if fixture.capture is None:
        raise UsageError(f"{fixture.file}: no capture is wired; the swap test watches the picture")
    looks: list[Swapped] = []

    async def steps(stand: Stand) -> None:
        looks.extend(await swaps(stand, watch_s, _say))

    stand_up(Standing(fixture, sheet, bench.reports, _say, "soak swap"), steps)
    _say(decide(looks))
    return int(ExitCode.DONE)


async def swaps(stand: Stand, watch_s: float, say: Callable[[str], None]) -> Sequence[Swapped]:
    """Look at everything as it is, then with one part after another exchanged."""
    if stand.power.wired:
        await stand.on("swap test")
        await trio.sleep(patient_start_limit_s(stand.model_sheet))
    first = await _losses(stand, watch_s)
    if first is None:
        raise BenchFault("capture", "saw no picture of this unit: is it on, and at this capture?")
    looks = [Swapped("", first, watch_s)]
    say(f"as it was: {first} losses in {watch_s:.0f} s")
    for part in _PARTS:
        text = f"Put the part before back and exchange the {part}. Done? (no: there is none)"
        question = Question(f"swap/{part}", text, "yes/no", wait_s=300.0)
        if not question.agreed(await stand.ask(question)):
            say(f"other {part}: not tried")
            continue
        losses = await _losses(stand, watch_s)
        if losses is None:
            say(f"other {part}: no picture came, so it does not count")
            continue
        looks.append(Swapped(part, losses, watch_s))
        say(f"other {part}: {losses} losses in {watch_s:.0f} s")
    return looks


async def _losses(stand: Stand, watch_s: float) -> int | None:
    """Count what is lost for a while; None where no picture was seen that could be."""
    seen, bad = list[str](), lost("capture", stand.model_sheet)
    with trio.move_on_after(watch_s):
        async for record in stand.hub.follow("capture"):
            if isinstance(record, State):
                seen.append(record.state)
    if not SHOWN.intersection(seen):
        return None
    return sum(state in bad for state in seen[1:])


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")
