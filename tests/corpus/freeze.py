"""Judge the whole corpus anew and compare with what is expected.

.venv/bin/python tests/corpus/freeze.py            tell the differences
.venv/bin/python tests/corpus/freeze.py --accept   take them over; name each in CHANGELOG.md
"""

import json
import math
import sys
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from adapter import judged
from stored import EXPECTED, Job, dumped, families, jobs_of

HOW = (
    "If each difference is meant, accept it with `make corpus-accept` and name it in CHANGELOG.md; "
    "one that nobody can name is a defect."
)
NEARLY = 1e-7
"""Figures that differ by less, relatively, are the same; processors round differently."""

Plain = dict[str, Any]
Results = Mapping[tuple[str, str], Plain]
"""By job and requirement; the grade stands under an empty requirement."""


class Difference(NamedTuple):
    """One figure or word that is not as expected."""

    job: str
    requirement: str
    field: str
    old: Any
    new: Any

    def __str__(self) -> str:
        where = self.requirement or "the grade"
        return f"{self.job}: {where}: {self.field}: was {self.old}, is {self.new}"


def found(jobs: Sequence[Job]) -> dict[tuple[str, str], Plain]:
    """Judge jobs anew; return grade and findings."""
    results: dict[tuple[str, str], Plain] = {}
    for job in jobs:
        grade, findings = judged(job.soaks(), job.script)
        results[job.name, ""] = grade
        for finding in findings:
            results[job.name, finding["id"]] = finding
    return results


def expected(family: str) -> dict[tuple[str, str], Plain]:
    """Return what is expected of a family."""
    path = EXPECTED / f"{family}.jsonl"
    results = {}
    for line in path.read_text(encoding="utf-8").splitlines() if path.exists() else ():
        data = json.loads(line)
        results[data.pop("job"), data.get("id", "")] = data
    return results


def differences(old: Results, new: Results) -> Iterator[Difference]:
    """Yield each difference, one a field."""
    for key in sorted({*old, *new}):
        if key not in old or key not in new:
            yield Difference(*key, "there", key in old, key in new)
            continue
        before, after = dict(_flat(old[key])), dict(_flat(new[key]))
        for field in sorted({*before, *after}):
            if not _alike(before.get(field), after.get(field)):
                yield Difference(*key, field, before.get(field), after.get(field))


def _flat(data: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(data, Mapping | list):
        parts = data.items() if isinstance(data, Mapping) else enumerate(data)
        for key, part in parts:
            yield from _flat(part, f"{name}.{key}" if name else str(key))
    else:
        yield name, data


def _alike(old: Any, new: Any) -> bool:
    if isinstance(old, float) and isinstance(new, float | int) and not isinstance(new, bool):
        return math.isclose(old, new, rel_tol=NEARLY, abs_tol=NEARLY)
    return bool(old == new)


def accept(family: str, results: Results) -> None:
    """Expect from now on what was found: one line a finding, so that each change can be read.

    A line that differs in nothing stays as it is: processors round differently.
    """
    EXPECTED.mkdir(exist_ok=True)
    before = expected(family)
    changed = {(one.job, one.requirement) for one in differences(before, results)}
    kept = {key: before[key] for key in before.keys() & results.keys() - changed}
    lines = [dumped({"job": key[0], **kept.get(key, result)}) for key, result in results.items()]
    (EXPECTED / f"{family}.jsonl").write_text("".join(lines), encoding="utf-8")


def main() -> int:
    """Tell each difference; return how the program exits."""
    told = 0
    for family in families():
        results = found(jobs_of(family))
        for difference in differences(expected(family), results):
            told += 1
            sys.stdout.write(f"{family}: {difference}\n")
        if "--accept" in sys.argv:
            accept(family, results)
    if told and "--accept" not in sys.argv:
        sys.stdout.write(f"{told} differences. {HOW}\n")
        return 1
    sys.stdout.write(f"{told} differences\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
