"""Lies by a person's word: details, repairs, wipings, what is seen by hand, records beside."""

from lying.bench import FAILS, LUCKY, Bench, Ending
from lying.ways import way


@way("records a wiping that nobody did", truth="good", leaves="by KY")
def false_wiping(bench: Bench) -> Ending:
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("claims a safety test that nobody did", truth="good", leaves="by KY|KY")
def false_safety_test(bench: Bench) -> Ending:
    bench.soaks(seed=LUCKY)
    bench.must("report", "last", "--details")
    [details] = (bench.path / "details").iterdir()
    done = '[safety_test]\nby = "KY"\non = "2026-01-04"\nmethod = "own"\nresult = "passed"\n'
    bench.writes(f"details/{details.name}", done)
    return bench.ends()


@way("after it failed, edits the details: no known defects, another claim", never=True)
def details_after(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.must("report", "last", "--details")
    [details] = (bench.path / "details").iterdir()
    bench.writes(
        f"details/{details.name}",
        'claim = "tested"\nknown_defects = ["none"]\ncondition = "as new"\n',
    )
    return bench.ends()


@way("a simulated fixture sold as a real soak", truth="good", says="SIMULATED|simulated")
def simulated_as_real(bench: Bench) -> Ending:
    bench.soaks(seed=LUCKY)
    ending = bench.ends()
    sold = bench.types("unit", "sold", "K1", "--where", "own shop")
    if sold.code == 0:
        return Ending(True, "sold as ready", 0, sold.out)
    return Ending(ending.ready, ending.grade, ending.code, sold.err + ending.text)


@way("the unit stated to be its own reference", never=True, truth="overheats", function="cooling")
def own_reference(bench: Bench) -> Ending:
    words = ("run", "evening", "--unit", "K1@left", "--seed", str(FAILS), "--as-reference")
    bench.types(*words)
    bench.soaks(seed=FAILS)
    return bench.ends()
