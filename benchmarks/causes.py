"""Do the pointers point right? Random faults, none of them used in writing the rules.

Run: benchmarks/causes.py [SCENES [SEED]]. Each scene's fault has its strength, heat, kind and times
drawn at random; each is soaked overnight in simulated time by the same program. Truth is the drawn
fault.
"""

import sys
import tempfile
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.desk.demo.demo import soak_simulated
from soak.desk.orders import Order, prepare
from soak.journal import open_evidence
from soak.judge.explain.causes import probable_causes
from soak.run.script import find_script, read_script
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text

KINDS = ("video port", "usb port", "power", "start", "cooling", "link", "program", "none")


def main() -> None:
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 64
    chance = np.random.default_rng(int(sys.argv[2]) if len(sys.argv) > 2 else 4711)
    truths = [KINDS[at % len(KINDS)] for at in range(number)]
    work = [(at, truth, scene_text(truth, chance)) for at, truth in enumerate(truths)]
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        found = list(pool.map(pointed, work))
    right = Counter(t for t, f in zip(truths, found, strict=True) if f and f[0] == t)
    quiet = Counter(t for t, f in zip(truths, found, strict=True) if not f)
    print("really wrong   scenes   right pointer first   nothing pointed at")
    for kind in KINDS:
        print(f"{kind:<14} {truths.count(kind):>6} {right[kind]:>21} {quiet[kind]:>20}")
    faulty = [(t, f) for t, f in zip(truths, found, strict=True) if t != "none" and f]
    first = sum(f[0] == t for t, f in faulty)
    print(
        f"\nright first: {first} of {len(faulty)} that showed anything ({first / len(faulty):.0%})"
    )
    for at, (truth, said) in enumerate(zip(truths, found, strict=True)):
        if (truth == "none" and said) or (truth != "none" and said and said[0] != truth):
            print(f"wrong: scene {at}: {truth}, pointed at {', '.join(said)}")


def pointed(work: tuple[int, str, str]) -> list[str]:
    """Soak one scene overnight; return the pointers' keys, the likeliest first."""
    number, _, scene = work
    model = Path(MODEL_SHEET_NAME).stem
    with tempfile.TemporaryDirectory() as scratch:
        bench = BenchFolder(Path(scratch))
        bench.models.mkdir(parents=True)
        (bench.models / f"{model}.toml").write_text(model_sheet_text())
        file = bench.path / "fault.toml"
        file.write_text(scene)
        fixture = bench.path / "fixture.toml"
        fixture.write_text(
            fixture_text("good").replace('simulated = "good"', f'simulated = "{file}"')
        )
        units.add(bench.path, "SP40-1", model=model, tag="K1", bought="", by="", anyway=False)
        ledger = units.open_ledger(bench.path)
        script = read_script(find_script("overnight", bench.path))
        from datetime import UTC, datetime

        when = datetime(2026, 1, 5, 20, tzinfo=UTC)
        one = prepare(bench, ledger, script, Order("K1", fixture), when, 1000 + number)
        soak_simulated(one)
        return [cause.key for cause in probable_causes([open_evidence(one.folder)])]


def scene_text(kind: str, chance: np.random.Generator) -> str:
    head = f'truth = "{kind}"\ntruth_grade = "not ready: failed"\nfault = "drawn"\n'
    hot = chance.random() < 0.5
    heat = f'spot = "heatsink"\nabove_degc = {chance.uniform(40, 50):.1f}\n' if hot else ""
    often = f"per_hour = {chance.uniform(3, 20):.1f}\n{heat}"
    lasts = f"lasts_s = [{chance.uniform(0.25, 1):.2f}, {chance.uniform(2, 8):.2f}]\n"
    look = chance.choice(["no signal", "black"])
    rise, factor = chance.uniform(46, 54), chance.uniform(1.9, 2.4)
    first, later = chance.uniform(20, 60), chance.uniform(70, 120)
    again = f'after_s = ["{first:.0f} min", "{later:.0f} min"]\n'
    texts = {
        "video port": f'[contacts.video]\nlooks = "{look}"\n[contacts.video.opens]\n{often}{lasts}',
        "usb port": usb(chance, often, lasts),
        "power": f'[interruption]\n{again}kind = "restart"\n',
        "start": f"[start]\nfails_warm = {chance.uniform(0.06, 0.3):.3f}\nfails_cold = "
        f"{chance.uniform(0.1, 0.8):.3f}\n",
        "cooling": cooling(chance, rise, factor),
        "link": '[data]\nfalls_spot = "heatsink"\n'
        f"falls_above_degc = {chance.uniform(46, 54):.1f}\n"
        f"fallen_bytes_per_s = {chance.uniform(5e5, 4e6):.0f}\n",
        "program": f'[interruption]\n{again}kind = "hang"\n',
        "none": "",
    }
    return head + texts[kind]


def usb(chance: np.random.Generator, often: str, lasts: str) -> str:
    if chance.random() < 0.3:
        return f"[contacts.usb1]\n[contacts.usb1.opens]\n{often}{lasts}"
    kind = chance.choice(["flips", "stale", "zeros", "errors"])
    longer = f"lasts_s = [{chance.uniform(2, 5):.1f}, {chance.uniform(10, 30):.1f}]\n"
    return f'[data]\nkind = "{kind}"\n[data.damage]\n{often}{longer}'


def cooling(chance: np.random.Generator, rise: float, factor: float) -> str:
    if chance.random() < 0.4:
        hours = chance.uniform(1.5, 3.5)
        span = f'["{hours:.1f} h", "{hours + 0.4:.1f} h"]'
        return f"[fan]\ndies_after_s = {span}\nfactor = {factor:.2f}\n"
    return (
        f'[spots.heatsink]\nrise_k = {rise:.1f}\ntau_s = "7 min"\nslow_rise_k = 12\n'
        f'[spots.outside]\nrise_k = {rise * 0.6:.1f}\ntau_s = "18 min"\nslow_rise_k = 12\n'
    )


if __name__ == "__main__":
    main()
