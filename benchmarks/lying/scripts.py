"""Lies by scripts: looser ones, others of the same name, parts left out; and by judging again."""

import signal

from lying.bench import FAILS, LUCKY, Bench, Ending
from lying.ways import FAILED_BEFORE, way

LOOSE = (
    (r"^(shortest_dropout_s|shorter_per_h) = .*\n", ""),
    (r"^failure_free_s = .*", "failure_free_s = 1"),
    (
        r"^\[stretch.picture\]$",
        "[stretch.picture]\nshortest_dropout_s = 60\nshorter_per_h = 1000",
    ),
)
NO_PICTURE = (
    r"^(\[stretch.picture\]|(shortest_dropout_s|shorter_per_h|failure_free_s) = .*)\n",
    "",
)


def loosened(bench: Bench, name: str = "evening") -> None:
    """Write the evening script with limits that nothing can break."""
    bench.script(*LOOSE, name=name)


@way("edits the script's limits after it failed", never=True, quick=True)
def edits_the_script(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    loosened(bench)
    bench.soaks(seed=FAILS)
    return bench.ends()


@way(
    "soaks by a looser script from the start, under the shipped one's name",
    says=r"\b[1-9][0-9]* (\w+ ){0,2}(breaks?|dropouts?|losses|times)\b|not the script|looser",
)
def looser_from_the_start(bench: Bench) -> Ending:
    loosened(bench)
    bench.soaks(seed=FAILS)
    return bench.ends()


@way("after it failed, a looser script of another name", never=True)
def another_name(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    loosened(bench, "gentle")
    bench.edits("scripts/gentle.toml", ('^name = "evening"', 'name = "gentle"'))
    bench.soaks("gentle", seed=FAILS)
    return bench.ends()


@way("after it failed, the stretch gets another name and other limits", never=True)
def renamed_stretch(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    loosened(bench)
    bench.edits("scripts/evening.toml", ('^name = "hot run"', 'name = "warm run"'))
    bench.soaks(seed=FAILS)
    return bench.ends()


@way("after it failed, a script that does not look at the picture", never=True)
def picture_left_out(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.script(NO_PICTURE)
    bench.soaks(seed=FAILS)
    return bench.ends()


@way("after it failed, a script of one minute", never=True, truth="flickers")
def one_minute(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.script(
        ('^lasts = "25 min"', 'lasts = "1 min"'),
        ("^failure_free_s = .*", "failure_free_s = 30"),
        ("^warm = 20", "warm = 1"),
    )
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("after it failed, the quick script that is over too soon", never=True, truth="flickers")
def quick_after(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.soaks("quick", seed=LUCKY)
    return bench.ends()


@way(
    "judges by a looser script and shows what the command says",
    says=r"judged again|another script|soaked by",
    quick=True,
)
def judged_by_a_looser(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    loosened(bench, "gentle")
    said = bench.types("judge", "last", "--script", "gentle")
    made = bench.ends()
    return Ending(
        said.code == 0 or made.ready, said.out.split(":")[0], said.code, said.out + said.err
    )


@way("cut off by a kill, edits the script, then resumes", never=True)
def resumes_after_editing(bench: Bench) -> Ending:
    words = ("run", "evening", "--unit", "K1@left", "--seed", str(FAILS))
    bench.interrupted("stretch 'starts' begins", signal.SIGKILL, *words)
    loosened(bench)
    bench.types("resume", "last")
    return bench.ends()


@way("Ctrl-C at the first loss, then the quick script", never=True, truth="flickers")
def stopped_at_the_first_loss(bench: Bench) -> Ending:
    words = ("run", "evening", "--unit", "K1@left", "--seed", str(FAILS))
    bench.interrupted("was lost", signal.SIGINT, *words)
    bench.soaks("quick", seed=LUCKY)
    return bench.ends()


@way(
    "Ctrl-C before the hot run, then the quick script",
    says=FAILED_BEFORE + r"|stopped|incomplete|breaks off",
)
def stopped_before_the_fault(bench: Bench) -> Ending:
    bench.wires("flickers")
    words = ("run", "evening", "--unit", "K1@left", "--seed", str(LUCKY))
    bench.interrupted("stretch 'attended' begins", signal.SIGINT, *words)
    bench.soaks("quick", seed=LUCKY)
    return bench.ends()


PLANNED = """\
name = "planned"
not_after = "6 h"
[[stretch]]
name = "warm starts"
attended = true
[stretch.plan]
of = "warm starts"
good = 0.05
bad = 0.20
good_rejected = 0.05
bad_accepted = 0.20
[stretch.power_cycles]
off_s = 30
on_s = 60
[stretch.picture]
[[stretch]]
name = "run"
lasts = "6 min"
attended = true
[stretch.picture]
[stretch.transfer]
write_budget_bytes = 250_000_000
[stretch.spots]
limits = false
"""


@way(
    "under a plan, stops each try at its first failure until one is quiet",
    truth="balks",
    function="start",
)
def tries_under_a_plan(bench: Bench) -> Ending:
    bench.writes("scripts/planned.toml", PLANNED)
    for seed in (2, 5, 7):
        words = ("run", "planned", "--unit", "K1@left", "--seed", str(seed))
        bench.interrupted("showed no picture", signal.SIGINT, *words)
    bench.soaks("planned", seed=6)
    return bench.ends()
