"""Ways to get a bad unit to ready, each tried through the real commands; none may end unsaid.

Run: benchmarks/liars.py [--short] [--in-process] [--keep FOLDER] [WORD ...]; with words only the
ways whose names hold one of them; in-process it takes a third of the time, as the program is
loaded once. A unit is simulated and known to be bad; what a careless or dishonest operator could
do about it is done by the commands that everybody has, or by an editor. At the end stands what a
buyer would read. Simulated units say SIMULATED on every page, which counts for nothing here: a
ready is *qualified* only by a word of what was done or seen. Exit code 1 if a bad unit comes out
ready without one, or where no word makes a ready right (READY, said). What no program can prevent
is listed apart, with what it leaves to be seen; see
docs/explanation/who-could-cheat-whom.md.
"""

import re
import sys
import tempfile
import textwrap
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from lying import files, people, real, repeats, scripts, sheets  # noqa: F401 each adds its ways
from lying.bench import FAILS, LUCKY, Command, Ending, by_main, by_process, new_bench
from lying.ways import WAYS, Way

from soak.errors import ExitCode

WIDTH = 70
AT_ONCE = 3
"""So many lies on real drivers are told side by side; they mostly wait."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one way.

    Attributes
    ----------
    said : str
        The first sentence that qualifies a ready; empty: none does.
    broke : str
        Why the lie could not even be told: a command that it needs was refused.
    lost : bool
        Whether it broke off otherwise: then nobody knows how it would have ended.
    """

    way: Way
    ending: Ending | None
    said: str
    broke: str = ""
    lost: bool = False

    @property
    def unqualified(self) -> bool:
        """Whether a bad unit came out ready, and a buyer cannot see why not."""
        if self.ending is None or not self.ending.ready:
            return False
        return not self.said or (self.way.never and not self.way.leaves)

    @property
    def in_short(self) -> str:
        """How it ended, in two words."""
        if self.ending is None:
            return "NOT TRIED" if self.lost else "refused"
        if not self.ending.ready:
            return "not ready"
        if self.unqualified:
            return "READY" if not self.said else "READY, said"
        return "cannot be prevented" if self.way.leaves else "ready, said"


def main() -> int:
    words = [word for word in sys.argv[1:] if not word.startswith("--")]
    kept = Path(words.pop(0)) if "--keep" in sys.argv else None
    ways = [one for one in WAYS if one.quick or "--short" not in sys.argv]
    ways = [one for one in ways if not words or any(word in one.name for word in words)]
    command = by_main if "--in-process" in sys.argv else by_process
    outcomes: list[Outcome] = []
    with tempfile.TemporaryDirectory() as scratch, ThreadPoolExecutor(AT_ONCE) as threads:
        place = kept or Path(scratch)
        honest = honestly(place, command)
        as_taken_for(place, command)
        # What waits in real time waits while the others compute.
        waiting = {
            one.name: threads.submit(tried, one, place / f"{number:02}", honest)
            for number, one in enumerate(ways, 1)
            if one.real
        }
        for number, one in enumerate(ways, 1):
            at = place / f"{number:02}"
            told = waiting[one.name].result() if one.real else tried(one, at, honest, command)
            outcomes.append(told)
            tell(number, told)
    bad = [one for one in outcomes if one.unqualified]
    lost = [one for one in outcomes if one.lost]
    beyond = sum(bool(one.way.leaves) for one in outcomes)
    print(f"{len(outcomes)} ways, {beyond} of them beyond any program")
    print(f"ready, and a buyer is not told: {len(bad)}; not tried: {len(lost)}")
    return 1 if bad or lost else 0


def honestly(place: Path, command: Command = by_process) -> Mapping[str, str]:
    """Soak a good unit honestly; return the sentences that stand on its page and text anyway, each
    under itself masked.

    Raises
    ------
    RuntimeError
        If the good unit is not ready: then no lie would show anything.
    """
    bench = new_bench(place / "honest", "good", command=command)
    bench.must("prove", "left", "--model", "ferrow-sp-40")
    bench.soaks(seed=FAILS)
    ending = bench.ends()
    if not ending.ready:
        raise RuntimeError(f"a good unit, honestly soaked, is {ending.grade}")
    return {masked(one): one for one in sentences(ending.text + "\n" + ending.page)}


def as_taken_for(place: Path, command: Command = by_process) -> None:
    """Soak the bad units honestly.

    Raises
    ------
    RuntimeError
        If one is not as the lies take it for.
    """
    for truth, seed, code in (
        ("drops", FAILS, ExitCode.FAILED),
        ("overheats", FAILS, ExitCode.FAILED),
        ("flickers", FAILS, ExitCode.FAILED),
        ("flickers", LUCKY, ExitCode.DONE),
    ):
        bench = new_bench(place / f"honest-{truth}-{seed}", truth, command=command)
        bench.soaks(seed=seed)
        if bench.types("judge").code != code:
            raise RuntimeError(f"the unit {truth!r} with the seed {seed} is not as it was")


def tried(
    one: Way, place: Path, honest: Mapping[str, str], command: Command = by_process
) -> Outcome:
    """Tell one lie on a bench of its own."""
    bench = new_bench(place, one.truth, one.function, command)
    try:
        ending = one.does(bench)
    except RuntimeError as refused:
        return Outcome(one, None, "", str(refused))
    except Exception as broke:  # the other ways are to be tried all the same
        return Outcome(one, None, "", repr(broke), lost=True)
    finally:
        (place / "told.txt").write_text("\n".join(bench.told))
    return Outcome(one, ending, qualified(one, ending, honest))


def qualified(one: Way, ending: Ending, honest: Mapping[str, str]) -> str:
    """Return the first sentence a buyer reads that speaks of the lie; empty: there is none.

    Not one that an honest page has, but for its figures: unless it is these that tell.
    """
    speaks = re.compile(one.leaves or one.says)
    for told in sentences(ending.text):
        as_honest = honest.get(masked(told))
        new = bool(one.leaves) or as_honest is None or not speaks.search(as_honest)
        if new and speaks.search(told):
            return told
    return ""


def sentences(text: str) -> Sequence[str]:
    """Return the sentences and lines of a text."""
    return [part.strip() for part in re.split(r"\n|(?<=[.;]) ", text) if part.strip()]


def masked(sentence: str) -> str:
    """Return a sentence whose counts, other than none at all, do not matter."""
    return re.sub(r"\b0*[1-9][\d.,:]*", "#", sentence)


def tell(number: int, outcome: Outcome) -> None:
    """Print one line of the table, and what qualifies it."""
    code = "" if outcome.ending is None else str(outcome.ending.code)
    name = textwrap.shorten(outcome.way.name, WIDTH)
    print(f"{number:>2}  {name:<{WIDTH}}  {outcome.in_short:<19}  {code:>3}")
    unready = outcome.ending is not None and not outcome.ending.ready
    said = outcome.ending.grade if unready else outcome.said or outcome.broke
    if said:
        print(
            textwrap.fill(
                said, 100, initial_indent="      ", subsequent_indent="      ", max_lines=2
            ),
            flush=True,
        )


if __name__ == "__main__":
    sys.exit(main())
