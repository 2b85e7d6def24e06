"""A million inputs for each parser of what somebody else made, guided by what code they reach.

`.venv/bin/python benchmarks/fuzz.py NAME|all [--inputs N] [--seconds S]`; names as
`tests/support/foreign_parsers.py` has them. Each runs in a process of its own, whose memory is
bounded; an input that breaks a parser is kept beside the trace that it made.

Guided by atheris (libFuzzer), which mutates what reached new code; Linux on x86-64 only.
"""

import argparse
import re
import subprocess
import sys
import tempfile
from pathlib import Path

HOUSE = Path(__file__).parents[1]
MOST_MIB = 1024
SLOWEST_S = 20


def main() -> int:
    told = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    told.add_argument("name")
    told.add_argument("--inputs", type=int, default=1_000_000)
    told.add_argument("--seconds", type=int, default=0, help="end a parser after so long")
    asked = told.parse_args()
    sys.path[:0] = [str(HOUSE / "tests" / "support")]
    if asked.name.startswith("="):
        _fuzz(asked.name[1:])
    from foreign_parsers import PARSERS

    names = list(PARSERS) if asked.name == "all" else [asked.name]
    broken = 0
    print(f"{'parser':<24}{'inputs':>10}{'a second':>10}{'MiB':>6}  came of it")
    for name in names:
        broken += _one(name, PARSERS[name], asked.inputs, asked.seconds)
    return int(broken > 0)


def _one(name: str, parser: object, inputs: int, seconds: int) -> bool:
    with tempfile.TemporaryDirectory(prefix="soak-fuzz-") as folder:
        corpus = Path(folder)
        for at, seed in enumerate(parser.seeds):
            (corpus / f"seed-{at}").write_bytes(seed)
        limits = [f"-runs={inputs}", f"-max_len={parser.longest_bytes}", "-seed=1"]
        limits += [f"-rss_limit_mb={MOST_MIB}", f"-timeout={SLOWEST_S}", "-print_final_stats=1"]
        limits += [f"-max_total_time={seconds}"] if seconds else []
        kept = Path(tempfile.gettempdir()) / f"soak-fuzz-{name.replace(' ', '-')}-"
        limits += [f"-artifact_prefix={kept}", str(corpus)]
        done = subprocess.run(
            [sys.executable, __file__, f"={name}", *limits],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            check=False,
        )
    figures = dict(re.findall(r"stat::(\w+):\s+(\d+)", done.stdout))
    executed = figures.get("number_of_executed_units", "0")
    each = figures.get("average_exec_per_sec", "0")
    came = "nothing broke" if done.returncode == 0 else "BROKE"
    print(f"{name:<24}{executed:>10}{each:>10}{figures.get('peak_rss_mb', '0'):>6}  {came}")
    if done.returncode:
        trace = re.search(r"=== Uncaught Python exception: ===.*?(?=\n==|\Z)", done.stdout, re.S)
        print(trace[0] if trace else done.stdout[-2000:])
    sys.stdout.flush()
    return done.returncode != 0


def _fuzz(name: str) -> None:
    """Run one parser under the fuzzer; never returns."""
    import atheris

    with atheris.instrument_imports(include=["soak", "tomllib", "csv"]):
        from foreign_parsers import PARSERS
    parser = PARSERS[name]
    atheris.Setup([sys.argv[0], *sys.argv[2:]], parser.take)
    atheris.Fuzz()


if __name__ == "__main__":
    if len(sys.argv) > 1 and sys.argv[1].startswith("="):
        sys.path[:0] = [str(HOUSE / "tests" / "support")]
        _fuzz(sys.argv[1][1:])
    sys.exit(main())
