"""The house rule of sizes: no file and no function longer than one can hold in mind."""

import ast
from collections.abc import Iterator
from pathlib import Path

HOUSE = Path(__file__).parents[2]

MOST_LINES_OF_A_FILE = 400
MOST_LINES_OF_A_FUNCTION = 60


def files() -> dict[str, int]:
    """Return lines per file of the package."""
    sizes = {}
    for path in sorted((HOUSE / "soak").rglob("*.py")):
        lines = len(path.read_text(encoding="utf-8").splitlines())
        sizes[str(path.relative_to(HOUSE))] = lines
    return sizes


def functions_in(source: str) -> Iterator[tuple[str, int]]:
    """Yield each function's name and lines, its signature and docstring included."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.name, (node.end_lineno or node.lineno) - node.lineno + 1


def functions() -> dict[str, int]:
    """Return lines per function of the package."""
    return {
        f"{path.relative_to(HOUSE)}:{number}:{name}": lines
        for path in sorted((HOUSE / "soak").rglob("*.py"))
        for number, (name, lines) in enumerate(functions_in(path.read_text(encoding="utf-8")))
    }


def test_no_file_is_longer_than_one_can_hold_in_mind():
    """No file of the package has more than 400 lines."""
    assert {name: n for name, n in files().items() if n > MOST_LINES_OF_A_FILE} == {}


def test_no_function_is_longer_than_a_screen():
    """No function of the package has more than 60 lines, docstring included."""
    assert {name: n for name, n in functions().items() if n > MOST_LINES_OF_A_FUNCTION} == {}


def test_functions_are_counted_whole_and_inner_ones_too():
    """The count is of whole functions, so that a long one cannot hide behind a short inner one."""
    source = "def outer():\n    def inner():\n        return 1\n\n    return inner\n"
    assert dict(functions_in(source)) == {"outer": 5, "inner": 2}
