"""One page of this bench's troubles, the worst first, under each what mends it."""

import json
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from soak.desk.bench_folder import BenchFolder
from soak.desk.trouble import devices, files, host, together
from soak.desk.trouble.found import Finding, Trouble, Unseen
from soak.desk.trouble.named import named_in
from soak.desk.wrapped import window_width, wrapped
from soak.errors import ExitCode
from soak.frozen.fixture import Fixture
from soak.reader import spoken
from soak.words import Data, Message, Output, Phrase, counted, joined, msg

LOOK_LIMIT_S = 10.0
"""One look may take so long, s: a dead network folder never answers. Our own choice."""

T = TypeVar("T")


def trouble(bench_path: Path, *, as_json: bool) -> tuple[Output, ExitCode]:
    """Return what stands in this bench's way, with what mends it; reads only.

    The code is that of a fault of the bench if a soak would be refused, or could not begin.
    """
    look = _Look()
    _look_at_all(BenchFolder(bench_path), look)
    all_ = [trouble for trouble in look.findings if isinstance(trouble, Trouble)]
    once = {str(trouble.told): trouble for trouble in all_}
    troubles = sorted(once.values(), key=lambda trouble: not trouble.in_the_way)
    unseen = [gap.told for gap in look.findings if isinstance(gap, Unseen)]
    stands = any(trouble.in_the_way for trouble in troubles)
    code = ExitCode.BENCH_FAULT if stands else ExitCode.DONE
    if as_json:
        return Data(json.dumps(_as_data(troubles, unseen), indent=2)), code
    return Data("\n\n".join(_page(troubles, unseen))), code


@dataclass(slots=True)
class _Look:
    """Looks at one thing after the other, each for a bounded time."""

    findings: list[Finding] = field(default_factory=list)

    def at(self, what: Message, see: Callable[[], T]) -> T | None:
        """Return what is seen; None, and a sentence among the findings, if that takes too long."""
        seen: list[T] = []
        broke: list[BaseException] = []

        def work() -> None:
            try:
                seen.append(see())
            except BaseException as fault:  # told where the command is told what broke
                broke.append(fault)

        thread = threading.Thread(target=work, daemon=True)
        thread.start()
        thread.join(LOOK_LIMIT_S)
        if broke:
            raise broke[0]
        if not seen:
            self.findings.append(Unseen(msg("{what}: it does not answer", what=what)))
            return None
        return seen[0]

    def for_(self, what: Message, check: Callable[[], Iterable[Finding]]) -> None:
        """Take in what a check finds."""
        self.findings += self.at(what, lambda: list(check())) or []


def _look_at_all(bench: BenchFolder, look: _Look) -> None:
    the_files, the_devices = msg("the bench's files"), msg("what is plugged in")
    read = look.at(the_files, lambda: (files.read_fixtures(bench), files.read_scripts(bench)))
    here = look.at(the_devices, host.this_host)
    if read is not None:
        (fixtures, unread), (scripts, wrong_scripts) = read
        look.findings += [*unread, *wrong_scripts]
        look.for_(the_files, lambda: files.of_other_files(bench))
        look.for_(msg("the disk"), lambda: files.of_the_room(bench, fixtures, scripts))
    if here is None:
        return
    look.for_(the_files, lambda: files.of_the_folder(bench, here.person))
    if read is not None:
        look.for_(the_devices, lambda: _of_wiring(bench, fixtures, here))
    look.for_(msg("sleep"), lambda: host.of_sleep(here.root))
    look.for_(msg("the clock"), lambda: host.of_the_clock(here.root, bench))


def _of_wiring(
    bench: BenchFolder, fixtures: Sequence[Fixture], here: host.Host
) -> Iterator[Finding]:
    names = named_in(fixtures, here)
    yield from devices.of_devices(names, here, bench.path)
    yield from together.of_names(fixtures, names)
    yield from together.of_cameras(names, here)
    yield from together.of_hubs(names)


def _page(troubles: Sequence[Trouble], unseen: Sequence[Message]) -> Iterator[str]:
    width = window_width()
    yield wrapped(_in_short(troubles), width, "", then="")
    for trouble in troubles:
        mend = [_to_do(line, width) for line in trouble.mend]
        yield "\n".join([wrapped(_begun(trouble), width, "", then=""), *mend])
    if unseen:
        lines = [wrapped(gap, width - 2, "  ") for gap in unseen]
        yield "\n".join([wrapped(msg("Not looked at:"), width, ""), *lines])


def _to_do(line: Message, width: int) -> str:
    """Say what mends something; a command stands on one line, so that it can be copied."""
    is_sentence = isinstance(line.saying, Phrase)
    return wrapped(line, width, "    ") if is_sentence else f"    {spoken(line)}"


def _begun(trouble: Trouble) -> Message:
    kind = msg("in the way") if trouble.in_the_way else msg("mind")
    return joined(": ", [kind, trouble.told])


def _in_short(troubles: Sequence[Trouble]) -> Message:
    if not troubles:
        return msg("No trouble found at this bench.")
    in_the_way = sum(trouble.in_the_way for trouble in troubles)
    return joined(
        "; ",
        [
            counted(
                len(troubles), "{count} trouble at this bench", "{count} troubles at this bench"
            ),
            counted(
                in_the_way,
                "{count} stands in a soak's way",
                "{count} stand in a soak's way",
                none=msg("none stands in a soak's way"),
            ),
        ],
    )


def _as_data(troubles: Sequence[Trouble], unseen: Sequence[Message]) -> dict[str, Any]:
    return {
        "troubles": [
            {"in_the_way": trouble.in_the_way, "told": trouble.told, "mend": list(trouble.mend)}
            for trouble in troubles
        ],
        "not_looked_at": list(unseen),
    }
