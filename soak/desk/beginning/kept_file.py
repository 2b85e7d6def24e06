"""TOML files written by `soak` that keep what a person wrote into them: remarks, order, blanks."""

from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Comment, Table

from soak.errors import UsageError
from soak.words import msg

Remarks = Mapping[tuple[str, ...], Sequence[str]]
"""Lines of remark to stand over a key or within a table, by the path to it; () for the file's head.
A table of a list is named by its `name`."""


def new_text(data: Mapping[str, Any], remarks: Remarks) -> str:
    """Return a new file with its remarks."""
    document = tomlkit.document()
    for line in remarks.get((), ()):
        document.add(tomlkit.comment(line))
    _fill(document, data, (), remarks)
    return tomlkit.dumps(document)


def with_values(text: str, data: Mapping[str, Any], remarks: Remarks, file: str) -> str:
    """Return a file's text with these values, and all else as it was.

    Keys and tables that are not in `data` go; their remarks move to the end of the file, unless
    they are those that `soak` writes itself.

    Raises
    ------
    UsageError
        If the text is no TOML.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as fault:
        raise UsageError(
            msg("{file}: is not valid TOML: {why}", file=file, why=str(fault))
        ) from None
    own = {line for lines in remarks.values() for line in lines}
    gone: list[str] = []
    _merge(document, data, (), remarks, gone)
    theirs = [line for line in gone if line.removeprefix("# ") not in own]
    for line in theirs:
        document.add(tomlkit.comment(line.removeprefix("# ")))
    return tomlkit.dumps(document)


def _fill(
    table: Container | Table, data: Mapping[str, Any], path: tuple[str, ...], remarks: Remarks
) -> None:
    """Put values into a new table: plain ones first, as TOML has it."""
    plain = {key: value for key, value in data.items() if not _is_table(value)}
    for key, value in plain.items():
        for line in remarks.get((*path, key), ()):
            table.add(tomlkit.comment(line))
        table.add(key, value)
    for key, value in data.items():
        if key not in plain:
            table.add(key, _made(value, (*path, key), remarks))


def _made(value: Any, path: tuple[str, ...], remarks: Remarks) -> Table | AoT:
    """Return a new table, or a new list of tables."""
    if isinstance(value, list):
        tables = tomlkit.aot()
        for entry in value:
            tables.append(_made(entry, (*path, str(entry.get("name", ""))), remarks))
        return tables
    table = tomlkit.table()
    for line in remarks.get(path, ()):
        table.add(tomlkit.comment(line))
    _fill(table, value, path, remarks)
    return table


def _merge(
    table: Any,
    data: Mapping[str, Any],
    path: tuple[str, ...],
    remarks: Remarks,
    gone: list[str],
) -> None:
    for key in [key for key in table if key not in data]:
        gone += _remarks_in(table[key])
        del table[key]
    for key, value in data.items():
        at = (*path, key)
        there = table.get(key)
        if isinstance(value, Mapping) and isinstance(there, Mapping):
            _merge(there, value, at, remarks, gone)
        elif _is_table(value) and isinstance(there, AoT):
            _merge_list(table, key, value, path=at, remarks=remarks, gone=gone)
        elif _is_table(value):
            table[key] = _made(value, at, remarks)
        elif key not in table or table[key] != value:
            table[key] = value


def _merge_list(
    table: Any,
    key: str,
    entries: Sequence[Mapping[str, Any]],
    *,
    path: tuple[str, ...],
    remarks: Remarks,
    gone: list[str],
) -> None:
    """Merge a list of tables by their names; it is made anew only where its order is another."""
    there = {str(entry.get("name", "")): entry for entry in table[key]}
    wanted = [str(entry["name"]) for entry in entries]
    for name in [name for name in there if name not in wanted]:
        gone += _remarks_in(there.pop(name))
    for name, entry in zip(wanted, entries, strict=True):
        if name in there:
            _merge(there[name], entry, (*path, name), remarks, gone)
    if list(there) == wanted and len(table[key]) == len(wanted):
        return
    tables = tomlkit.aot()
    for name, entry in zip(wanted, entries, strict=True):
        tables.append(there.get(name) or _made(entry, (*path, name), remarks))
    table[key] = tables


def _remarks_in(item: Any) -> list[str]:
    """Return the remarks in a table, however deep; a plain value has that behind it."""
    if isinstance(item, AoT):
        return [line for table in item.body for line in _remarks_in(table)]
    if not isinstance(item, Table):
        return (
            [item.trivia.comment] if getattr(item, "trivia", None) and item.trivia.comment else []
        )
    lines = [item.trivia.comment] if item.trivia.comment else []
    for key, value in item.value.body:
        if isinstance(value, Comment):
            lines.append(value.trivia.comment)
        elif key is not None:
            lines += _remarks_in(value)
    return lines


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping) or (
        isinstance(value, list) and bool(value) and all(isinstance(one, Mapping) for one in value)
    )
