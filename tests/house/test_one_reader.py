"""Whoever reads entries of the ledger reads them as corrected: one file alone selects them."""

import ast
from pathlib import Path

LEDGER = Path(__file__).parents[2] / "soak" / "ledger"
READS = "corrected.py"
ENTRIES_OF = {
    "JOBS", "REPAIRS", "SALES", "CAME_BACK", "SETTLED", "WIPED", "PHOTOGRAPHS", "SOAKS", "UNITS",
    "WITHDRAWN", "CORRECTIONS",
}  # fmt: skip
TO_FIND_AGAIN = {("soaks.py", "SOAKS"), ("bench_wear.py", "SOAKS")}
"""A soak is never withdrawn: its row is brought up to date, and what it cost is kept."""


def selected(source: str) -> set[str]:
    """Return the tables of entries named in a `select` or `join` in some code."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        called = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if called in ("select", "join", "outerjoin"):
            names = [
                one.id
                for given in node.args
                for one in ast.walk(given)
                if isinstance(one, ast.Name)
            ]
            found |= ENTRIES_OF & set(names)
    return found


def test_one_file_alone_reads_entries():
    """A reader of its own would forget a correction."""
    others = {
        (path.name, table)
        for path in LEDGER.rglob("*.py")
        if path.name != READS
        for table in selected(path.read_text(encoding="utf-8"))
    }
    assert others - TO_FIND_AGAIN == set()


def test_the_house_rule_sees_a_reader_of_its_own():
    """A rule that could not fail would guard nothing."""
    assert selected("rows = connection.execute(select(SALES).where(x))") == {"SALES"}
    assert selected("select(A).join(REPAIRS, A.c.x == REPAIRS.c.entry)") == {"REPAIRS"}
    assert selected("connection.execute(insert(SALES).values(x=1))") == set()
