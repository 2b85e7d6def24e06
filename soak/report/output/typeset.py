"""Set a page or picture: texts go in as data, only shipped fonts, warnings are errors.

The one file that knows the typesetter.
"""

import functools
import json
import re
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import datetime
from importlib import resources
from pathlib import Path
from typing import Any, Literal

import typst

from soak.errors import SoakError
from soak.words import Message, Phrase, just, msg

MISSING = "□"
"""Stands for a sign that the shipped font does not hold: a gap would hide that one stood there."""

PDF_STANDARDS: Sequence[Literal["ua-1", "a-2a"]] = ("ua-1", "a-2a")
"""Tagged for screen readers (ISO 14289-1, PDF/UA-1) and to be kept (ISO 19005-2, level A)."""


_OWN = re.compile(r'\bsay\("([^"]+)"\)')
"""A phrase of a template's own; it asks for its words by the phrase."""


class NotSet(SoakError):
    """Report that a page could not be set; its words say which and why."""


@functools.cache
def signs() -> frozenset[int]:
    """Return the code points that both shipped faces hold."""
    text = resources.files("soak.report").joinpath("fonts/signs.txt").read_text(encoding="ascii")
    spans = [line.split("-") for line in text.split()]
    return frozenset(
        sign for first, last in spans for sign in range(int(first, 16), int(last, 16) + 1)
    )


def phrases_in(source: str) -> list[str]:
    """Return the phrases that a template's source says."""
    return list(dict.fromkeys(_OWN.findall(source)))


def own_words(template: str) -> dict[str, Message]:
    """Return what a template says of its own, by the phrase."""
    source = resources.files("soak.report").joinpath(f"templates/{template}")
    phrases = phrases_in(source.read_text(encoding="utf-8"))
    return {phrase: Message(Phrase(phrase, {})) for phrase in phrases}


def fitted(data: Any) -> tuple[Any, frozenset[str]]:
    """Return plain data with each sign that the font lacks replaced, and which signs those were."""
    if isinstance(data, str):
        known = signs()
        lacking = frozenset(
            letter for letter in data if ord(letter) not in known and letter not in "\n\t"
        )
        return "".join(MISSING if letter in lacking else letter for letter in data), lacking
    if isinstance(data, Mapping):
        fits = {key: fitted(value) for key, value in data.items()}
        fit: Any = {key: one for key, (one, _) in fits.items()}
        return fit, frozenset().union(*(lacking for _, lacking in fits.values()))
    if isinstance(data, list | tuple):
        each = [fitted(value) for value in data]
        return [one for one, _ in each], frozenset().union(*(lacking for _, lacking in each))
    return data, frozenset()


def set_pdf(
    template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes], issued: datetime
) -> bytes:
    """Set a document as PDF; `issued` is the only time in it.

    Raises
    ------
    NotSet
        If the typesetter refuses it or warns.
    """
    with _folder(template, data, pictures) as folder:
        made = _compile(
            folder, template, format="pdf", pdf_standards=list(PDF_STANDARDS), timestamp=issued
        )
    return b"".join(made)


def set_pictures(
    template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes], scale: float = 1.0
) -> list[bytes]:
    """Set a document as PNG, a picture a page, `scale` pixels a point.

    Raises
    ------
    NotSet
        If the typesetter refuses it or warns.
    """
    with _folder(template, data, pictures) as folder:
        return _compile(folder, template, format="png", ppi=72.0 * scale)


def _compile(folder: Path, template: str, **options: Any) -> list[bytes]:
    with resources.as_file(resources.files("soak.report").joinpath("fonts")) as fonts:
        shipped = typst.Fonts(
            include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(fonts)]
        )
        try:
            made, warnings = typst.compile_with_warnings(
                str(folder / template), root=str(folder), font_paths=shipped, **options
            )
        except typst.TypstError as fault:
            raise NotSet(
                msg(
                    "{template}: cannot be set: {message}", template=template, message=fault.message
                )
            ) from None
    if warnings:
        raise NotSet(just(f"{template}: {warnings[0].message}"))
    return [made] if isinstance(made, bytes) else list(made or [])


@contextmanager
def _folder(
    template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes]
) -> Iterator[Path]:
    """Lay out what the typesetter may see: template, data and pictures, and nothing else."""
    with tempfile.TemporaryDirectory(prefix="soak-page-") as name:
        folder = Path(name)
        source = resources.files("soak.report").joinpath(f"templates/{template}")
        (folder / template).write_bytes(source.read_bytes())
        (folder / "data.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
        for file, content in pictures.items():
            (folder / file).write_bytes(content)
        yield folder
