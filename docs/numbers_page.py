"""Page of every number that decides, from the constants themselves and the docstrings under them.

A number decides if it stands by itself at the top of a module of `DECIDING`, or of `WITH_A_UNIT`
with a measurement unit at the end of its name. What only makes room or belongs to a format says so
in its docstring, "Decides nothing", and is not listed.
"""

import ast
import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import soak
from soak.quantities import unit_named

SOAK = Path(soak.__file__).parent
DECIDING = ("rules", "derive", "judge", "statistics", "checks", "measure", "run", "states.py")
WITH_A_UNIT = ("bench", "frozen")
NOTHING = "Decides nothing"
SOURCE = re.compile(
    r"(?i:own choice|common practice|from memory|by definition|by simulation)"
    r"|\b(?:IEC|ISO|JCGM|NIST|EBU|EPA|ITU|POSIX|RFC|USB|IEEE)[ -][\w/-]*\d"  # a standard
    r"|\b(?:specification|default of)\b"
    r"|\b[A-Z]\w+(?: (?:&|and) [A-Z]\w+)? \(?(?:19|20)\d\d\)?"  # authors and year
)
"""How a docstring says where its number comes from."""
INTRO = """# Numbers that decide

Made from the program by `make docs`; do not edit. Each stands once in the program, with what it
means and where it comes from: a published source, common practice, which is nobody's standard, or
our own choice, which is nobody's but ours. "From memory" was not looked up again. What a script,
fixture or model sheet may say instead is in the references of keys.
"""


@dataclass(frozen=True)
class Number:
    """A constant of one number, or of a few.

    Attributes
    ----------
    means : str
        Its docstring on one line; empty: it has none.
    """

    module: str
    name: str
    value: str
    means: str

    @property
    def has_source(self) -> bool:
        """Whether its docstring says where it comes from, or that it decides nothing."""
        return NOTHING in self.means or SOURCE.search(self.means) is not None


def numbers() -> Iterator[Number]:
    """Yield every number that may decide, by module."""
    for top in (*DECIDING, *WITH_A_UNIT):
        place = SOAK / top
        for file in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            for one in _in_module(file):
                if top in DECIDING or unit_named(one.name.lower()) not in ("", "B"):
                    yield one


def numbers_page() -> str:
    """Return the page as Markdown: a section a package, in it a table a module."""
    parts, section = [INTRO], ""
    found = [one for one in numbers() if NOTHING not in one.means]
    for module in dict.fromkeys(one.module for one in found):
        package = module.rpartition("/")[0] or module
        if package != section:
            section = package
            parts.append(f"## {_says(SOAK / package)}\n")
        parts += [f"### `{module}`\n", f"{_says(SOAK / module)}\n"]
        parts += ["| number | value | meaning and source |", "|---|---|---|"]
        own = [one for one in found if one.module == module]
        parts += [f"| `{one.name}` | {one.value} | {_cell(one.means)} |" for one in own]
        parts.append("")
    return "\n".join(parts)


def _in_module(file: Path) -> Iterator[Number]:
    body = ast.parse(file.read_text("utf-8")).body
    module = file.relative_to(SOAK).as_posix()
    for number, node in enumerate(body):
        value = getattr(node, "value", None)
        if not isinstance(node, ast.Assign | ast.AnnAssign) or not _is_number(value):
            continue
        target = node.targets[0] if isinstance(node, ast.Assign) else node.target
        names = getattr(target, "elts", [target])
        values = value.elts if len(names) > 1 and isinstance(value, ast.Tuple) else [value]
        means = _docstring(body[number + 1 : number + 2])
        for name, own in zip(names, values, strict=True):
            if isinstance(name, ast.Name) and name.id.isupper():
                yield Number(module, name.id, ast.unparse(own), means)


def _is_number(value: ast.expr | None) -> bool:
    if isinstance(value, ast.Constant):
        return isinstance(value.value, int | float) and not isinstance(value.value, bool)
    if isinstance(value, ast.UnaryOp):
        return _is_number(value.operand)
    if isinstance(value, ast.BinOp):
        return _is_number(value.left) and _is_number(value.right)
    return isinstance(value, ast.Tuple) and all(map(_is_number, value.elts))


def _docstring(following: list[ast.stmt]) -> str:
    node = following[0] if following else None
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return " ".join(inspect.cleandoc(str(node.value.value)).split())
    return ""


def _says(place: Path) -> str:
    """Return the first sentence of a package or module about itself."""
    file = place / "__init__.py" if place.is_dir() else place
    text = ast.get_docstring(ast.parse(file.read_text("utf-8"))) or place.name
    return " ".join(text.partition("\n\n")[0].split())


def _cell(text: str) -> str:
    return text.replace("|", "&#124;")
