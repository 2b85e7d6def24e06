"""Write what comes from the program itself (`make docs`); a test finds what is stale.

That is the command line's page, those of rules, of keys (`keys_page.py`) and of numbers that decide
(`numbers_page.py`), the schema of a report, the page with which buyers check one, and in each
language a catalogue a package of `soak/`: new phrases are put in without words (a test asks for
them), unused ones are put aside at the end of the file.
"""

import dataclasses
import inspect
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from types import NoneType
from typing import IO, Any, get_args, get_origin

import typer.main
from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir, extract_python
from babel.messages.pofile import read_po, write_po
from jinja2.ext import babel_extract
from keys_page import key_pages
from numbers_page import numbers_page

from soak.cli.app import app
from soak.judge.judging import all_rules
from soak.report.output.checker import checker
from soak.report.output.typeset import phrases_in
from soak.report.schema import schema_text
from soak.rules.core.rule import AnyRule, Section

DOCS = Path(__file__).parent
SOAK = DOCS.parent / "soak"
LANGUAGES = SOAK / "languages"
KEYWORDS: dict[str, Any] = {"msg": None, "counted": (2, 3), "_": None}
"""The functions of `soak.words` that take phrases, and `_` of a template's own phrases."""
_SECTIONS = list(Section)
RULES_INTRO = """# Judging rules

Made from the program by `make docs`; do not edit. A requirement in a journal's header names the
rule it is judged by, its limit, and the rule's parameters, which are the lines in code type below.
An unknown parameter is refused and never passed over.
"""
_KINDS = {bool: "yes or no", int: "whole number", float: "number", str: "text"}
WIDTH = {"terminal_width": 100, "max_content_width": 100}
INTRO = """# Command line reference

Made from the program by `make docs`; do not edit. Every verb also explains itself:
`soak VERB --help`.

SOAK is a soak's id, its unique beginning, a path, or `last`; UNIT is a tag or serial, or its
beginning. `--bench DIR` before the verb names the bench's folder; without it, it is the current
one.

| exit code | meaning |
|---|---|
| 0 | ready, or done |
| 1 | not ready: the unit failed |
| 2 | wrong usage or a bad file; nothing was started |
| 3 | a bench fault before there was a grade, or before it could be kept: a full disk; a trouble |
| 4 | not ready: the evidence is incomplete |
| 5 | `soak` itself broke: a fault of the program, never of the unit |
| 6 | ready, as far as tested: the claim leaves a key function out, as was said before the soak |
| 130 | stopped: by Ctrl-C, `soak stop`, a closed window, or the system that told it to end |
"""


def cli_page() -> str:
    """Return the command line reference as Markdown."""
    command = typer.main.get_command(app)
    context = command.context_class(command, info_name="soak", **WIDTH)
    parts = [INTRO, _section(command, context, "soak")]
    parts += [_section(verb, inner, name) for name, verb, inner in _verbs(command, context)]
    return "\n".join(parts)


def pages() -> dict[Path, str]:
    """Return every generated page by its file."""
    return {
        DOCS / "reference" / "cli.md": cli_page(),
        DOCS / "reference" / "rules.md": rules_page(),
        DOCS / "reference" / "numbers.md": numbers_page(),
        **{DOCS / "reference" / name: text for name, text in key_pages().items()},
        DOCS / "report-schema.json": schema_text(),
        DOCS / "check-a-report.html": checker(),
        DOCS / "check-a-report-de.html": checker("de"),
        **{file: text for folder in LANGUAGES.iterdir() for file, text in _catalogues(folder)},
    }


def rules_page() -> str:
    """Return the page of judging rules as Markdown: what each demands, reads and counts."""
    rules = sorted(
        all_rules().values(), key=lambda rule: (_SECTIONS.index(rule.section), rule.name)
    )
    parts = [RULES_INTRO]
    for section in Section:
        parts.append(f"## {section.value.capitalize()}\n")
        parts += [_rule(rule) for rule in rules if rule.section is section]
    return "\n".join(parts)


def _rule(rule: AnyRule) -> str:
    judged = inspect.getdoc(rule.judge) or ""
    unit = f"`{rule.unit}`" if rule.unit else "that of the quantity"
    rows = [
        f"| limit | {rule.reads.limit_kind(unit)} |",
        f"| bounds beside the value | {rule.bounds.value} |",
        f"| in the reason of a grade | {rule.weight.value} |",
        *(
            f"| `{one.name}` | {_kind(one.type)}{_default(one)} |"
            for one in dataclasses.fields(rule.terms)
        ),
    ]
    return "\n".join([f"### {rule.name}\n", f"{judged}\n", "| | |", "|---|---|", *rows, ""])


def _kind(of: Any) -> str:
    """Return a parameter's type in words."""
    parts = [part for part in get_args(of) or (of,) if part not in (NoneType, Ellipsis)]
    if get_origin(of) is tuple:
        return f"list: {_KINDS.get(parts[0], 'object')}"
    return " or ".join(
        _KINDS.get(part, _kind(part) if get_args(part) else "object") for part in parts
    )


def _default(one: "dataclasses.Field[Any]") -> str:
    if one.default is dataclasses.MISSING:
        return ", must be given"
    return "" if one.default in (None, "", ()) else f", else {one.default!r}"


def phrases() -> dict[str, dict[str | tuple[str, ...], list[str]]]:
    """Return each package's phrases with the files they stand in; one of two forms is a pair."""
    ways = [("**.py", extract_python), ("**.j2", babel_extract), ("**.typ", _set_in_type)]
    options = {"**.j2": {"silent": "false"}}
    found: dict[str, dict[str | tuple[str, ...], list[str]]] = {}
    known: set[str | tuple[str, ...]] = set()
    for name, _, phrase, _, _ in sorted(
        extract_from_dir(SOAK, ways, options, keywords=KEYWORDS), key=lambda one: (one[0], one[1])
    ):
        package = name.partition("/")[0].removesuffix(".py")
        own = found.setdefault(package, {})
        if phrase in own:
            own[phrase].append(name)
        elif phrase not in known:
            known.add(phrase)
            own[phrase] = [name]
    return {package: own for package, own in found.items() if own}


def _set_in_type(
    source: IO[bytes], keywords: Any, comments: Any, options: Any
) -> Iterator[tuple[int, str, str, list[str]]]:
    """Yield the phrases of a typesetter's template as Babel takes them."""
    for phrase in phrases_in(source.read().decode()):
        yield 0, "_", phrase, []


def _catalogues(folder: Path) -> Iterator[tuple[Path, str]]:
    """Return the catalogues of one language with all phrases of today."""
    said: dict[str, Message] = {}
    for file in sorted(folder.glob("*.po")):
        with file.open("rb") as source:
            catalogue = read_po(source, locale=folder.name)
        for message in (*catalogue, *catalogue.obsolete.values()):
            one = message.id if isinstance(message.id, str) else message.id[0]
            if one and (one not in said or any(message.string)):
                said[one] = message
    packages = phrases()
    used = {one if isinstance(one, str) else one[0] for own in packages.values() for one in own}
    for package, own in sorted(packages.items()):
        made = Catalog(
            locale=folder.name, header_comment=f"# Phrases of soak/{package}.", fuzzy=False
        )
        for phrase, names in own.items():
            before = said.get(phrase if isinstance(phrase, str) else phrase[0])
            same = before is not None and isinstance(before.id, str) == isinstance(phrase, str)
            where = [(f"soak/{name}", None) for name in dict.fromkeys(names)]
            made.add(phrase, before.string if before and same else None, locations=where)
        if package == max(packages):
            made.obsolete = {
                one: said[one] for one in said if one not in used and any(said[one].string)
            }
        written = BytesIO()
        write_po(written, made, width=100, omit_header=False, include_lineno=False)
        yield folder / f"{package}.po", _without_dates(written.getvalue().decode())


def _without_dates(text: str) -> str:
    """Leave out when a catalogue was made, by what and by whom: same phrases, same file."""
    idle = ('"POT-', '"PO-', '"Generated', '"Project', '"Report-', '"Last-T', '"Language-T')
    return "".join(one for one in text.splitlines(keepends=True) if not one.startswith(idle))


def _verbs(command: Any, context: Any) -> Iterator[tuple[str, Any, Any]]:
    for name in getattr(command, "commands", {}):
        verb = command.commands[name]
        inner = verb.context_class(verb, parent=context, info_name=name, **WIDTH)
        yield f"{context.command_path} {name}", verb, inner
        yield from _verbs(verb, inner)


def _section(command: Any, context: Any, name: str) -> str:
    return f"## {name}\n\n```text\n{command.get_help(context)}\n```\n"


if __name__ == "__main__":
    for file, text in pages().items():
        file.write_text(text, encoding="utf-8")
        print(file.relative_to(DOCS.parent))
