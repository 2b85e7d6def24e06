"""The house rule of rules: nobody but the rule itself knows what its name means."""

import ast
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2]
MAY_ASK = {
    "soak/judge/judging.py",  # finds the rule of a requirement
    "soak/rules/core/rule.py",  # finds the requirements of a rule
}


def asked(source: str) -> list[int]:
    """Return the lines in which code looks at the name of a requirement's rule."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Attribute)
        and node.attr == "rule"
        and isinstance(node.ctx, ast.Load)
        and not (isinstance(node.value, ast.Name) and node.value.id == "self")
    ]


def test_nobody_asks_for_a_rule_by_its_name():
    """What a rule means stands in the rule, so that a new one needs no line anywhere else."""
    found = {
        name: lines
        for path in sorted((HOUSE / "soak").rglob("*.py"))
        if (name := path.relative_to(HOUSE).as_posix()) not in MAY_ASK
        and (lines := asked(path.read_text(encoding="utf-8")))
    }
    assert found == {}


@pytest.mark.parametrize(
    "source", ["need.rule == 'starts'", "finding.requirement.rule in NAMES", "f(one.rule)"]
)
def test_each_way_of_asking_is_seen(source):
    """A rule that could not fail would guard nothing."""
    assert asked(source) == [1]
