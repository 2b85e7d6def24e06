"""Lies by a person's word: details, repairs, wipings, what is seen by hand, records beside."""

import json
import re

from lying.bench import FAILS, LUCKY, Bench, Ending
from lying.ways import FAILED_BEFORE, way


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


WITHDRAWN = r"[Ww]ithdrawn|[Cc]orrected|[Tt]aken back"


@way("after it failed, withdraws each demand it failed", says=FAILED_BEFORE + "|" + WITHDRAWN)
def demands_withdrawn(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    judged = json.loads(bench.types("judge", "last", "--json").out)
    for finding in judged["findings"]:
        if finding["verdict"] != "met":
            name = finding["requirement"]["id"]
            bench.must("withdraw", "last", name, "--because", "typed wrong", "--by", "KY")
    return bench.ends()


@way("leaves the picture out of the claim before the soak", says="as far as", function="cooling")
def claim_narrowed(bench: Bench) -> Ending:
    bench.writes("details/K1-1.toml", 'left_out = ["video", "start"]\n')
    bench.wires("drops", "left", NO_CAPTURE)
    bench.soaks(seed=FAILS)
    return bench.ends()


@way("leaves the picture out of the claim after the soak", never=True, function="cooling")
def claim_narrowed_after(bench: Bench) -> Ending:
    bench.wires("drops", "left", NO_CAPTURE)
    bench.soaks(seed=FAILS)
    bench.writes("details/K1-1.toml", 'left_out = ["video", "start"]\n')
    return bench.ends()


@way("after it failed, leaves the picture out of the claim and soaks again", never=True)
def claim_narrowed_later(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.writes("details/K1-1.toml", 'left_out = ["video", "start"]\n')
    bench.wires("drops", "left", NO_CAPTURE)
    bench.soaks(seed=FAILS)
    return bench.ends()


@way("withdraws the repair that nothing shows", never=True)
def repair_withdrawn(bench: Bench) -> Ending:
    bench.wires("drops", "left", NO_CAPTURE)
    bench.soaks(seed=FAILS)
    bench.must("unit", "withdraw", "K1", entry(bench, "repair"), *WHY)
    return bench.ends()


@way("opens it after it failed; afterwards corrects the repair to what failed", truth="flickers",
     says=FAILED_BEFORE + "|" + WITHDRAWN)  # fmt: skip
def repair_corrected(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.must("unit", "opened", "K1", "looked inside")
    bench.must("unit", "repair", "K1", "re-soldered", "--function", "start", "--by", "KY")
    bench.soaks(seed=LUCKY)
    bench.must("unit", "correct", "K1", entry(bench, "repair"), "--function", "video", *WHY)
    return bench.ends()


@way("withdraws a come-back", truth="flickers", says=r"came back|come-back|" + WITHDRAWN)
def come_back_withdrawn(bench: Bench) -> Ending:
    bench.soaks(seed=LUCKY)
    bench.must("unit", "sold", "K1", "--where", "own shop", "--anyway")
    bench.must("unit", "back", "K1", "the picture goes")
    bench.must("unit", "withdraw", "K1", entry(bench, "came back"), *WHY)
    return bench.ends()


@way("after it failed, corrects its serial to another", never=True, truth="flickers")
def serial_corrected(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.must("unit", "correct", "K1", "1", "--serial", "XB12-88", *WHY)
    bench.soaks(seed=LUCKY)
    return bench.ends()


@way("after it failed, withdraws the entry of the soak", never=True, truth="flickers")
def soak_withdrawn(bench: Bench) -> Ending:
    bench.soaks(seed=FAILS)
    bench.must("unit", "withdraw", "K1", entry(bench, "soak"), *WHY)
    bench.soaks(seed=LUCKY)
    return bench.ends()


WHY = ("--because", "typed wrong", "--by", "KY")
NO_CAPTURE = (r'^\[capture\]\ndriver = "simulated"\nport = "video"\n', "")


def entry(bench: Bench, kind: str) -> str:
    """Return the number of the newest entry of a kind on the card of K1.

    Raises
    ------
    RuntimeError
        If the card numbers none.
    """
    card = bench.types("unit", "show", "K1").out
    found = re.findall(rf"^\s*(\d+)\s+[-\d]+(?: [:\d]+)?\s+{kind}\b", card, re.MULTILINE)
    if not found:
        raise RuntimeError(f"the card has no entry {kind!r} with a number")
    return found[-1]
