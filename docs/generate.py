"""Write the pages that come from the program itself (`make docs`); a test finds stale ones."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer.main

from soak.cli.main import app
from soak.report.schema import schema_text

DOCS = Path(__file__).parent
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
| 3 | a bench fault before there was a grade |
| 4 | not ready: the evidence is incomplete |
| 130 | stopped by the operator |
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
        DOCS / "report-schema.json": schema_text(),
    }


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
