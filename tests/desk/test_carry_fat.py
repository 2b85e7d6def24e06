"""Carry over a real FAT, written and read by another program than ours or the kernel."""

import shutil
import subprocess

import pytest
from copying_unit import Workshop

NEEDS = ("mkfs.vfat", "mcopy", "mmd", "mdir")


def tool(*words: str) -> str:
    """Run one of the tools on the image."""
    return subprocess.run(words, check=True, capture_output=True, text=True).stdout


@pytest.mark.parametrize("bits", ["12", "16", "32"])
def test_files_that_crossed_a_fat_are_found_whole(tmp_path, bits):
    """Packed names need no long name, and what comes back off the FAT is known and whole."""
    lacking = [name for name in NEEDS if shutil.which(name) is None]
    if lacking:
        pytest.skip(f"needs dosfstools and mtools: there is no {lacking[0]}")
    shop, image = Workshop(tmp_path), tmp_path / "stick.img"
    shop.pack()
    image.touch()
    with image.open("r+b") as file:
        file.truncate({"12": 8, "16": 24, "32": 48}[bits] << 20)
    tool("mkfs.vfat", "-F", bits, "-s", {"12": "8", "16": "4", "32": "1"}[bits], str(image))
    tool("mcopy", "-s", "-i", str(image), str(shop.packed), "::/UNIT")
    listed = tool("mdir", "-b", "-i", str(image), "::/UNIT")
    assert {file.name for file in shop.files()} <= {
        line.rsplit("/", 1)[-1] for line in listed.split()
    }
    tool("mcopy", "-s", "-i", str(image), "::/UNIT", str(shop.storage / "back"))
    text, code = shop.unpack(shop.storage, through_folder=True)
    assert code == 0
    assert "16 of 16 files came whole" in text
