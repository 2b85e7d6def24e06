"""Simulated nights through the runner and the checks: a unit's fault, the bench's beside it.

What is true of a night follows from its number, by no rule of the program's.
"""

import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from true_nights import EVENTS, WITHIN_S, Truth, drawn, row_of

from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.desk.demo.demo import soak_simulated
from soak.desk.orders import Order, prepare
from soak.journal import open_evidence
from soak.judge.grade import judge
from soak.run.script import find_script, read_script
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text

SCRIPT = "evening"
HOURS = 0.75
"""So long the script has the unit on, h."""
SHEET = model_sheet_text().replace("holds_data = true", "holds_data = false")
"""Whether data was wiped is no part of what is tried here."""
KINDS = ("picture", "restarts", "starts", "port", "data", "slow", "heat")
EVENING = datetime(2026, 1, 5, 20, tzinfo=UTC)
SURE = 9.0
"""So many faults on the mean and none is a chance of one in 8 000: some were surely there."""
BETWEEN = '["8 min", "50 min"]'
TROUBLES = (
    f"[bench.adapter_vanishes]\nat_s = {BETWEEN}\nfor_s = 40\n",
    f"[bench.capture_wedges]\nat_s = {BETWEEN}\nfor_s = 90\n",
    f'[bench.probe_silent]\nprobe = "outside"\nat_s = {BETWEEN}\nfor_s = 120\n',
    f'[bench.probe_garbles]\nprobe = "outside"\nat_s = {BETWEEN}\nreads = [85.0]\n',
    f'[bench.probe_garbles]\nprobe = "heatsink"\nat_s = {BETWEEN}\nreads = [-127.0]\n',
    f"[bench.host_sleeps]\nat_s = {BETWEEN}\nfor_s = 300\n",
)


def soaked_night(seed: int) -> dict[str, Any]:
    """Soak a simulated unit of its own, and say what came of it."""
    truth, chance = drawn(seed, KINDS)
    troubles = [] if chance.random() < 0.5 else [str(chance.choice(TROUBLES))]
    text = scene(truth, chance) + "".join(troubles)
    with tempfile.TemporaryDirectory() as scratch:
        bench = BenchFolder(Path(scratch))
        bench.models.mkdir(parents=True)
        model = Path(MODEL_SHEET_NAME).stem
        (bench.models / f"{model}.toml").write_text(SHEET)
        file, fixture = bench.path / "drawn.toml", bench.path / "fixture.toml"
        file.write_text(text)
        wired = fixture_text("good").replace('simulated = "good"', f'simulated = "{file}"')
        fixture.write_text(wired)
        units.add(bench.path, "SP40-1", model=model, tag="K1", bought="", by="", anyway=False)
        ledger = units.open_ledger(bench.path)
        script = read_script(find_script(SCRIPT, bench.path))
        one = prepare(bench, ledger, script, Order("K1", fixture), EVENING, seed)
        soak_simulated(one)
        judged = judge([open_evidence(one.folder)])
    named = [line.partition("]")[0][1:] for line in troubles]
    if truth.strength == "strong":
        truth.events.append((0.0, 0.0))
    return row_of("soaked", truth, judged, named)


def scene(truth: Truth, chance: np.random.Generator) -> str:
    """Write the scene of a night."""
    head = f'truth = "{truth.kind}"\ntruth_grade = "not ready: failed"\nfault = "drawn"\n'
    events = EVENTS[truth.strength] if truth.strength else 0.0
    often = f"per_hour = {events / HOURS:.4f}\n"
    lasts = f"lasts_s = [{chance.uniform(0.3, 1):.2f}, {chance.uniform(2, 6):.2f}]\n"
    bout = f"bout_of = {truth.bout}\napart_s = {WITHIN_S}\n" if truth.bout > 1 else ""
    opens = often + lasts + bout
    look = str(chance.choice(["no signal", "black"]))
    if truth.kind in ("picture", "restarts"):
        truth.per_h = events / HOURS if truth.kind == "picture" else 0.0
    if truth.kind == "starts":
        truth.share = min(0.9, events / 20)
    first = max(2.0, 60 * HOURS / max(events, 0.1))
    rise_k, above_degc = {
        "very weak": ((34, 17), 60.0),
        "weak": ((38, 22), 54.0),
        "middling": ((44, 28), 50.0),
        "strong": ((52, 36), 42.0),
    }.get(truth.strength, ((30, 14), 0.0))
    texts = {
        "none": "",
        "picture": f'[contacts.video]\nlooks = "{look}"\n[contacts.video.opens]\n{opens}',
        "restarts": f'[interruption]\nafter_s = ["{first / 2:.1f} min", "{first:.1f} min"]\n',
        "starts": f"[start]\nfails_warm = {truth.share:.3f}\nfails_cold = {truth.share:.3f}\n",
        "port": f"[contacts.usb1]\n[contacts.usb1.opens]\n{opens}",
        "data": f'[data]\nkind = "{chance.choice(["flips", "stale", "zeros"])}"\n'
        f"[data.damage]\n{often}lasts_s = [3, 20]\n",
        "slow": f'[data]\nfalls_spot = "heatsink"\nfalls_above_degc = {above_degc}\n',
        "heat": f'[spots.heatsink]\nrise_k = {rise_k[0]}\ntau_s = "7 min"\nslow_rise_k = 14\n'
        f'[spots.outside]\nrise_k = {rise_k[1]}\ntau_s = "18 min"\nslow_rise_k = 14\n',
    }
    return head + texts[truth.kind]
