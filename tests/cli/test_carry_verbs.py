"""`soak carry` and `soak stand-in` as they are typed."""

import json
import shutil

import pytest
from copying_unit import Workshop
from typed_bench import typed as said_by
from typer.testing import CliRunner

from soak.cli.app import app
from soak.errors import SoakError


@pytest.fixture
def shop(tmp_path) -> Workshop:
    return Workshop(tmp_path)


def typed(shop: Workshop, *words: str):
    """Type a command on the shop's bench."""
    return CliRunner().invoke(app, ["--bench", str(shop.bench), *words])


def test_a_carry_is_packed_and_unpacked_as_typed(shop):
    """From the stick to the record, with the exit code of what came."""
    stick, size = str(shop.stick), "--size=4MB"
    packed = typed(shop, "carry", "pack", stick, "--unit=K1", "--port=usb2", size, "--own-disk")
    assert packed.exit_code == 0
    assert "16 files, 4.00 MB, written and read back" in packed.stdout
    shutil.copytree(shop.packed, shop.stick / "BACK")
    for file in (shop.stick / "BACK").iterdir():
        file.touch()
    unpacked = typed(shop, "carry", "unpack", stick, "--unit=K1", "--json")
    assert unpacked.exit_code == 0
    told = json.loads(unpacked.stdout)
    assert (told["verdict"], told["port"], len(told["files"])) == ("met", "usb2", 16)
    largest = max((shop.stick / "BACK").iterdir(), key=lambda file: file.stat().st_size)
    largest.write_bytes(b"spoilt" + largest.read_bytes()[6:])
    again = typed(shop, "carry", "unpack", stick, "--unit=K1")
    assert again.exit_code == 1
    assert "changed:" in again.stdout


def test_a_stand_in_wants_an_image_and_a_key(shop):
    """Without them it says what to type, and starts nothing."""
    result = said_by("--bench", str(shop.bench), "stand-in")
    assert result.code == 2
    assert "give IMAGE and --key" in result.err


def test_a_key_is_made_as_typed(shop, tmp_path):
    """The same name twice is refused in one sentence."""
    file = str(tmp_path / "bench.key")
    assert typed(shop, "stand-in", "--new-key", file).exit_code == 0
    again = typed(shop, "stand-in", "--new-key", file)
    assert isinstance(again.exception, SoakError)
    assert "is there already" in str(again.exception)
