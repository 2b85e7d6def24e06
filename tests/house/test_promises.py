"""The house rules that no linter knows: tests say what they promise, exceptions say why."""

import ast
import re
import tokenize
import tomllib
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2]

ROOMS_FOR_ANYTHING = {"utils", "util", "common", "helpers", "helper", "core", "manager", "misc"}

# A comment that silences a tool, and whatever it says after that.
SILENCERS = re.compile(
    r"#\s*(?:type:\s*ignore|noqa)(?:\[[^\]]*\]|:\s*[A-Z]+\d+(?:,\s*[A-Z]+\d+)*)?"
)
REASON = re.compile(r"[A-Za-z]{2,}.*\s.*[A-Za-z]{2,}")


def sources(*folders: str) -> Iterator[tuple[str, str]]:
    """Yield name and text of each Python file under these folders."""
    for folder in folders:
        for path in sorted((HOUSE / folder).rglob("*.py")):
            yield str(path.relative_to(HOUSE)), path.read_text(encoding="utf-8")


def silenced_without_reason(source: str) -> list[int]:
    """Return the lines on which a tool is silenced and nobody says why."""
    found = []
    for token in tokenize.generate_tokens(StringIO(source).readline):
        silenced = SILENCERS.search(token.string) if token.type == tokenize.COMMENT else None
        if silenced and not REASON.search(token.string[silenced.end() :]):
            found.append(token.start[0])
    return found


def skipped_without_reason(source: str) -> list[int]:
    """Return the lines on which a test is skipped or expected to fail and nobody says why."""
    tree = ast.parse(source)
    calls = {id(node.func): node for node in ast.walk(tree) if isinstance(node, ast.Call)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in ("skip", "skipif", "xfail"):
            call = calls.get(id(node))
            if ast.unparse(node).startswith("pytest.") and not _says_why(node.attr, call):
                found.append(node.lineno)
    return found


def _says_why(how: str, call: ast.Call | None) -> bool:
    if call is None:
        return False
    named = any(keyword.arg in ("reason", "msg") for keyword in call.keywords)
    return named or (bool(call.args) and how == "skip")


def promises_in(source: str) -> Iterator[tuple[str, str]]:
    """Yield name and docstring of each test function."""
    for node in ast.walk(ast.parse(source)):
        function = isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        if function and node.name.startswith("test_"):
            yield node.name, ast.get_docstring(node) or ""


def test_every_test_says_in_one_sentence_what_it_promises():
    """A test without its promise cannot be judged when it fails."""
    silent = [
        f"{name}: {test}"
        for name, source in sources("tests")
        for test, promise in promises_in(source)
        if not promise.split("\n\n")[0].endswith(".")  # sources may follow it
    ]
    assert silent == []


def test_every_test_name_is_a_claim():
    """A name of one or two words claims nothing that could be false."""
    short = [
        f"{name}: {test}"
        for name, source in sources("tests")
        for test, _ in promises_in(source)
        if len(test.split("_")) < 4
    ]
    assert short == []


def test_no_tool_is_silenced_without_a_reason():
    """Each ignored type or lint finding has its reason on the line."""
    found = {name: silenced_without_reason(source) for name, source in sources("soak", "tests")}
    assert {name: lines for name, lines in found.items() if lines} == {}


def test_no_test_is_skipped_without_a_reason():
    """Each skipped test says what it needs."""
    found = {name: skipped_without_reason(source) for name, source in sources("tests")}
    assert {name: lines for name, lines in found.items() if lines} == {}


def test_no_module_is_a_room_for_anything():
    """A module is named for the one idea it holds."""
    assert [name for name, _ in sources("soak") if Path(name).stem in ROOMS_FOR_ANYTHING] == []


def test_each_library_without_types_is_behind_one_file():
    """What the type checker cannot see is confined to one wrapper each."""
    project = tomllib.loads((HOUSE / "pyproject.toml").read_text(encoding="utf-8"))
    untyped = {
        name.removesuffix(".*")
        for override in project["tool"]["mypy"]["overrides"]
        if override.get("ignore_missing_imports")
        for name in override["module"]
    }
    assert untyped
    importers: dict[str, set[str]] = {name: set() for name in untyped}
    for name, source in sources("soak"):
        for library in imported_by(source) & untyped:
            importers[library].add(name)
    assert {name: files for name, files in importers.items() if len(files) > 1} == {}


def imported_by(source: str) -> set[str]:
    """Return the top-level names of what a file imports, inside functions too."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.add(node.module.split(".")[0])
    return found


@pytest.mark.parametrize(
    ("line", "without_reason"),
    [
        ("x = 1  # noqa", [1]),
        ("x = 1  # noqa: E501", [1]),
        ("x = f()  # type: ignore[no-any-return]", [1]),
        ("x = 1  # noqa: E501, the table reads better whole", []),
        ("x = f()  # type: ignore[attr-defined] # the stub lacks it", []),
        ("x = '# noqa'", []),
    ],
)
def test_a_silenced_tool_is_found_unless_its_reason_is_given(line, without_reason):
    """The count of reasonless lines sees comments, and only comments."""
    assert silenced_without_reason(line + "\n") == without_reason


@pytest.mark.parametrize(
    ("line", "without_reason"),
    [
        ("pytestmark = pytest.mark.skip", [1]),
        ("pytestmark = pytest.mark.skipif(True)", [1]),
        ("pytestmark = pytest.mark.xfail()", [1]),
        ("pytestmark = pytest.mark.skipif(True, reason='needs FUSE')", []),
        ("pytest.skip('needs FUSE')", []),
        ("pytest.skip()", [1]),
    ],
)
def test_a_skip_is_found_unless_its_reason_is_given(line, without_reason):
    """The count of reasonless skips sees marks and calls alike."""
    assert skipped_without_reason(line + "\n") == without_reason


def hurried(source: str) -> list[int]:
    """Return the lines on which a test gives others a time of its own to be done in."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and any(isinstance(one, ast.Constant) for one in _limits(node))
    ]


def _limits(call: ast.Call) -> list[ast.expr]:
    named = [one.value for one in call.keywords if one.arg == "timeout"]
    return named + (call.args[:1] if getattr(call.func, "attr", "") == "fail_after" else [])


def test_no_verdict_hangs_on_how_soon():
    """Whoever waits for others waits as long as all tests do: `patience.LIMIT_S`."""
    found = {name: hurried(source) for name, source in sources("tests")}
    assert {name: lines for name, lines in found.items() if lines} == {}


@pytest.mark.parametrize(
    ("line", "lines"),
    [
        ("process.communicate(timeout=60)", [1]),
        ("with trio.fail_after(10): pass", [1]),
        ("process.communicate(timeout=LIMIT_S)", []),
        ("with trio.fail_after(LIMIT_S): pass", []),
    ],
)
def test_a_time_of_its_own_is_found(line, lines):
    """Both ways to give one are seen, the common limit is none."""
    assert hurried(line) == lines


def test_every_folder_of_modules_is_a_package():
    """A folder without `__init__.py` would escape the contracts on who may import whom."""
    folders = {(HOUSE / name).parent for name, _ in sources("soak")}
    assert [str(folder) for folder in folders if not (folder / "__init__.py").exists()] == []
