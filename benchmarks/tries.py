"""How often a bad unit is accepted by a sequential plan when it is tried again and again.

Each try is a soak in memory with real marks and states, stopped by an operator who wants to see the
unit accepted: at its first failure, as soon as a start is late, or killed there. Judged by the
judge over all tries. By hand: `.venv/bin/python benchmarks/tries.py [NUMBER]`.

References
----------
The stated risk is that of the plan itself, by dynamic programming (`soak.statistics.plans`).
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from headers import header_of
from made_up_soak import CYCLE_S, FIXTURE, OFF_S, SCRIPT, SHEET, TOOK_S, MadeUpSoak, demand

from soak.derive.sequential import follow_starts
from soak.judge.judging import judge_requirement
from soak.judge.planning import starts_plan
from soak.records import FORMAT, Seal, Session, State
from soak.rules.core.verdict import Verdict
from soak.statistics.frozen import frozen
from soak.statistics.plans import StartsPlan

GOOD, BAD, RISK = 0.01, 0.20, 0.10
LIMIT_S = 50.0
WAYS = ("stopped at the first failure", "stopped while a start is late", "killed there")


def main(number: int) -> None:
    """Print the table."""
    plan = starts_plan(GOOD, BAD, RISK, RISK)
    terms = {"of": "warm starts", "good": GOOD, "bad": BAD, **frozen(plan)}
    need = demand("starts by plan", stretch="starts", check="power_cycles", limit=None,
                  confidence=0.95, params={"start_limit_s": LIMIT_S, "kinds": ["warm"],
                                           "plan": terms})  # fmt: skip
    stated = plan.outlook(BAD).accepted
    print(f"stated for a unit that fails {BAD:.0%} of its starts: accepted in {stated:.4f}")
    for way in range(len(WAYS)):
        for tries in (1, 2, 5, 10):
            draw = np.random.default_rng([way, tries])
            accepted = sum(_accepted(draw, need, plan, way, tries) for _ in range(number))
            share = accepted / number
            spread = 2 * (stated * (1 - stated) / number) ** 0.5
            print(f"{WAYS[way]:32} {tries:3} tries  {share:.4f}  (+-{spread:.4f})")


def _accepted(
    draw: np.random.Generator, need: object, plan: StartsPlan, way: int, tries: int
) -> bool:
    soaks: list[MadeUpSoak] = []
    failed: list[bool] = []
    for at in range(tries):
        soaks.append(_try(draw, need, plan, way, at, failed, stops=at < tries - 1))
        found = judge_requirement(need, soaks)
        if found.verdict is Verdict.MET:
            return True
        if found.verdict is Verdict.NOT_MET:
            return False
    return False


def _try(
    draw: np.random.Generator,
    need: object,
    plan: StartsPlan,
    way: int,
    at: int,
    so_far: list[bool],
    *,
    stops: bool,
) -> MadeUpSoak:
    """Run a try as the runner does: until the plan has decided, or the operator stops it."""
    header = header_of(
        format=FORMAT, soak_id=f"S{at}", job_id="J1",
        unit={"serial": "KY-1", "repairs": [], "wiped": None}, model_sheet=SHEET, script=SCRIPT,
        fixture=FIXTURE, quantities=(), requirements=(need,), references={}, seed=1, simulated=True,
    )  # fmt: skip
    soak = MadeUpSoak(header)
    soak.session_list.append(
        Session(1, "0", "boot", f"2026-01-{at + 1:02}T21:00:00Z", 0.0, 0.0, "first start")
    )
    soak.state_list += [State(0.0, "switch", "seen"), State(0.0, "capture", "no signal")]
    soak.mark(0.0, "stretch begins", "starts")
    for number in range(plan.longest):
        on_s = number * CYCLE_S + OFF_S
        soak.mark(on_s, "power", on=True, channel="1", why="")
        told = {"kind": "warm", "number": number + 1}
        soak.mark(on_s, "start", "starts", "power_cycles", off_s=OFF_S, **told)
        failed = draw.random() < BAD
        ends_s = on_s + (LIMIT_S + 5 if failed else TOOK_S)
        so_far.append(failed)
        if failed and stops and way > 0:  # he sees that it is late and ends the soak
            return _ended(soak, on_s + TOOK_S + 2, sealed=way == 1)
        seen = {"seen": not failed, "took_s": None if failed else TOOK_S}
        soak.mark(ends_s, "start ended", "starts", "power_cycles", **told, **seen)
        if not failed:
            soak.state_list.append(State(ends_s, "capture", "picture", 1 / 60))
        off_s = (number + 1) * CYCLE_S
        soak.mark(off_s, "power", on=False, channel="1", why="")
        soak.mark(off_s + 1, "off proved", "starts", "power_cycles", by="capture", after_s=1.0)
        soak.state_list.append(State(off_s + 0.1, "capture", "no signal", 1 / 60))
        if (failed and stops) or follow_starts(plan, so_far).decided != "undecided":
            return _ended(soak, off_s + 2, sealed=True)
    return _ended(soak, plan.longest * CYCLE_S + 2, sealed=True)


def _ended(soak: MadeUpSoak, t_s: float, *, sealed: bool) -> MadeUpSoak:
    if sealed:
        soak.mark(t_s, "power", on=False, channel="1", why="stopped")
        soak.mark(t_s, "stretch ends", "starts", because="stopped")
        soak.seal = Seal(t_s + 1, "stopped")
    soak.pieces["starts"] = [(0.0, t_s)]
    soak.ends_s = t_s + 1 if sealed else t_s
    return soak


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 4000)
