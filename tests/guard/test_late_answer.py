"""A switch that obeys at once and answers late: a start's time is known no better than that.

The real driver speaks SCPI to a pseudo terminal; `OUTP?` is SCPI-99 volume 2, 15.12.
"""

import re
import time

import pytest
from as_recorded import judged_as_recorded
from patience import LIMIT_S
from played_unit import played_unit
from supplied_bench import SuppliedBench, Supply

from soak.journal import open_evidence
from soak.rules.core.verdict import Verdict

LATE_S = 1.5
CYCLES = """\
name = "limits"
not_after = "10 min"
[[stretch]]
name = "limits"
[stretch.power_cycles]
warm = 2
off_s = 1
on_s = 3
start_limit_s = {limit_s}
"""


class Late(Supply):
    """A supply whose output comes on at once, and that says so only later."""

    def answer(self, line: bytes) -> bytes:
        if line.startswith(b"OUTP?") and self.on:
            time.sleep(LATE_S)
        return super().answer(line)


@pytest.mark.parametrize("script", [CYCLES, ""], ids=["power cycles", "supply margin"])
@pytest.mark.parametrize(
    ("limit_s", "verdict", "said"),
    [
        (0.2, Verdict.NOT_SHOWN, r"the (switch answered up to|supply answered) 1.5\d s after"),
        (10.0, Verdict.MET, r"0 s to 1.5\d s, as what switches its power answers late"),
    ],
    ids=["short", "long"],
)
def test_a_start_is_judged_by_all_that_it_may_have_taken(tmp_path, script, limit_s, verdict, said):
    """It took half a second, and its picture was there before the answer: 0 s is what was told."""
    supply = Late()
    with played_unit(supply) as unit, SuppliedBench(tmp_path, supply, unit.address) as bench:
        fixture = bench.folder / "fixtures" / "supply.toml"
        told = fixture.read_text().replace("pause_s = 0\n", "pause_s = 0\nanswer_s = 4\n")
        fixture.write_text(told)
        limits = bench.folder / "scripts" / "limits.toml"
        script = script or limits.read_text() + "start_limit_s = {limit_s}\n"
        limits.write_text(script.format(limit_s=limit_s))
        bench.run().wait(LIMIT_S)
        judged = judged_as_recorded(open_evidence(bench.soak_folder()))
    counted = ("starts", "supply margin")
    starts = [one for one in judged.findings if one.requirement.rule in counted]
    reasons = [f"{one.because} {one.why}" for one in starts]
    assert [one.verdict for one in starts] == [verdict] * len(starts) != []
    assert all(re.search(said, reason) for reason in reasons), reasons
