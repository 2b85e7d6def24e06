"""The wheel holds the whole program and all licences, and is the same whoever builds it."""

import hashlib
import zipfile
from email import message_from_bytes

import pytest
from fontTools.ttLib import TTFont
from wheel import HOUSE, build, copy_of_the_project

FONTS = HOUSE / "soak/report/fonts"
CHECKER = HOUSE / "soak/report/checker"
FACES = ("regular", "bold")


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """Build the wheel."""
    return build(tmp_path_factory.mktemp("wheel"))


def test_the_wheel_holds_every_file_of_the_program(wheel):
    """Templates, fonts, catalogues, scripts, scenes and the workshop go with the code."""
    there = {
        path.relative_to(HOUSE).as_posix()
        for path in (HOUSE / "soak").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    assert held == there
    kinds = {name.rpartition(".")[2] for name in held}
    assert kinds == {"py", "po", "toml", "typ", "css", "j2", "ttf", "txt", "png", "typed", "js"}


def test_the_wheel_holds_the_licence_of_all_that_is_in_it(wheel):
    """The program's licence, the fonts' and the verifier's are where installers look for them."""
    with zipfile.ZipFile(wheel) as held:
        (info,) = {name.partition("/")[0] for name in held.namelist() if ".dist-info/" in name}
        told = message_from_bytes(held.read(f"{info}/METADATA"))
        for name in (
            "LICENSE",
            "soak/report/fonts/LICENSE.txt",
            "soak/report/checker/LICENSE.txt",
        ):
            assert held.read(f"{info}/licenses/{name}") == (HOUSE / name).read_bytes()
    assert told["License-Expression"] == "MIT AND Bitstream-Vera"


@pytest.mark.parametrize("face", FACES)
def test_the_fonts_licence_says_all_that_the_font_itself_says(face):
    """Copyrights and licences that a font's own records hold stand in the file beside it.

    The records are those of the OpenType specification's `name` table: 0 copyright, 13 licence.
    """
    file = " ".join((FONTS / "LICENSE.txt").read_text(encoding="utf-8").split())
    names = TTFont(FONTS / f"soak-sans-{face}.ttf")["name"]
    for record in (0, 13):
        assert " ".join(names.getDebugName(record).split()) in file


def test_the_verifier_is_the_one_that_its_licence_names():
    """The file in the checker page is byte for byte that of the package; who wrote it is named."""
    told = (CHECKER / "LICENSE.txt").read_text(encoding="utf-8")
    content = (CHECKER / "noble-ed25519.js").read_bytes()
    assert hashlib.sha256(content).hexdigest() in told
    assert "Permission is hereby granted, free of charge" in told
    assert content.decode().startswith("/*! noble-ed25519 - MIT License")


def test_the_only_files_that_others_made_are_fonts_and_verifier():
    """Whatever is no text of the project's own is known here, so that its licence is asked for."""
    strange = {
        path.relative_to(HOUSE).as_posix()
        for path in (HOUSE / "soak").rglob("*")
        if path.suffix in {".ttf", ".png", ".jpg", ".svg", ".js", ".otf", ".woff2", ".bin"}
    }
    ours = {"soak/sim/no_signal.png", "soak/report/checker/check.js"}
    others = {f"soak/report/fonts/soak-sans-{face}.ttf" for face in FACES}
    assert strange - ours == {*others, "soak/report/checker/noble-ed25519.js"}


def test_the_wheel_is_the_same_wherever_and_whenever_it_is_built(wheel, tmp_path):
    """Another folder and other times of files give the same bytes."""
    copy = copy_of_the_project(tmp_path / "elsewhere")
    again = build(tmp_path / "again", of=copy)
    assert (again.name, again.read_bytes()) == (wheel.name, wheel.read_bytes())
